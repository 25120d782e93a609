"""A chart taken along as a file: well formed, on white paper, readable by other tools."""

import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from defectlog.charts import individuals, pareto
from defectlog.charts.bars import draw_bars
from defectlog.charts.drawing import DESK, LimitStretch, draw_series
from defectlog.charts.strips import draw_strips
from defectlog.report.chart_picture import ChartPicture, chart_png, chart_svg
from defectlog.report.chart_shapes import BarRows
from defectlog.units import percent

SVG = "{http://www.w3.org/2000/svg}"
VALUES = [0.020, 0.022, None, 0.023, 0.021, 0.060, 0.021, 0.020, 0.022, 0.021]


def series(**more) -> ChartPicture:
    chart = individuals(VALUES, lowest=0.0)
    drawing = draw_series(
        VALUES,
        [str(number) for number in range(1, 11)],
        sheet=DESK,
        limits=[LimitStretch.of(chart)],
        outside=[5],
        changes=[(4, "infusion")],
        write=percent,
    )
    told = {
        "title": "Locker door: void fraction by build",
        "sentence": "Nothing changed.",
        "source": "Heron Slip: 9 builds.",
        "up": "void fraction, per cent",
    }
    return ChartPicture(drawing=drawing, **(told | more))


def strips() -> ChartPicture:
    drawing = draw_strips([("none", [1.0, 2.0]), ("light", [2.0, 4.0, 4.0])], sheet=DESK)
    return ChartPicture("By setting", "No difference shown.", drawing, "Heron Slip: trial 1.")


def bars() -> ChartPicture:
    found = pareto({"dry-spot": 6, "pinholes-tool": 2})
    rows = zip(("Dry spot", "Pinholes"), ("6", "2"), draw_bars(found), strict=True)
    return ChartPicture("Findings", "Dry spots lead.", BarRows(tuple(rows)), "Heron Slip.")


def read(picture: ChartPicture) -> ElementTree.Element:
    return ElementTree.fromstring(chart_svg(picture).encode())


@pytest.mark.parametrize("picture", [series(), strips(), bars()])
def test_it_is_one_document_that_can_do_nothing(picture):
    root = read(picture)

    shapes = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert root.tag == f"{SVG}svg"
    assert shapes <= set("svg title desc rect g line path polyline circle text".split())
    for element in root.iter():
        assert not any(name.startswith("on") or "href" in name for name in element.attrib)
        assert "url(" not in " ".join(element.attrib.values())


def test_title_sentence_units_and_source_stand_on_it():
    words = " ".join(text.text for text in read(series()).iter(f"{SVG}text"))

    for part in ("void fraction by build", "Nothing changed.", "per cent", "Heron Slip: 9 builds."):
        assert part in words


def test_points_read_back_from_the_picture_are_the_values():
    root = read(series())
    field = root.find(f"{SVG}g")
    # The y axis by two of its own figures, as one would with a ruler.
    marks = [
        (float(t.get("y")), float(t.text.split()[0]) / 100)
        for t in field.findall(f"{SVG}text[@text-anchor='end']")
        if t.text.endswith("%")
    ]
    (y0, v0), (y1, v1) = marks[0], marks[-1]
    shift = 0.35 * DESK.letter  # letters hang below the line they name

    def value(y: float) -> float:
        return v0 + (y + shift - y0) / (y1 - y0) * (v1 - v0)

    circles = [value(float(c.get("cy"))) for c in field.findall(f"{SVG}circle")]
    assert circles == pytest.approx([v for v in VALUES if v and v < 0.05], abs=2e-5)
    assert len(field.findall(f"{SVG}path[@fill='#9b1c24']")) == 1  # the diamond


def test_words_with_signs_of_xml_and_control_characters_stay_words():
    root = read(series(title="Lid <script>alert(1)</script> & \x0b\x00 co", sentence="a < b"))

    assert root.find(f"{SVG}title").text == "Lid <script>alert(1)</script> &    co"
    assert root.find(f".//{SVG}script") is None


def test_a_long_sentence_is_broken_within_the_sheet():
    root = read(series(sentence="Void fraction fell from 2.1 % to 0.6 % after build 23. " * 12))

    lines = [t for t in root.findall(f"{SVG}text") if "fell" in t.text]
    assert len(lines) > 3
    assert float(root.get("height")) > float(read(series()).get("height"))


@pytest.mark.parametrize("picture", [series(), strips(), bars()])
def test_the_png_has_two_pixels_to_each_unit_and_white_paper(picture):
    root = read(picture)

    png = Image.open(io.BytesIO(chart_png(picture)))

    assert png.format == "PNG"
    assert png.size == (2 * int(root.get("width")), 2 * int(root.get("height")))
    pixels = np.asarray(png.convert("RGB"))
    assert (pixels[:20] == 255).all() and (pixels[:, -20:] == 255).all()
    # Letters and lines are there: some ink, and much more paper.
    assert 0.005 < (pixels.min(axis=2) < 128).mean() < 0.2


def test_lines_of_wide_letters_still_end_within_the_sheet():
    # Measured with the very letters of the picture: nothing may be inked in the right margin.
    long_word = "W" * 200
    picture = series(
        title="Mould gloom " * 20, sentence="Mould gloom WWW mm and now " * 20, source=long_word
    )

    words = [text.text for text in read(picture).findall(f"{SVG}text")]
    assert "".join(w for w in words if set(w) == {"W"}) == long_word
    pixels = np.asarray(Image.open(io.BytesIO(chart_png(picture, scale=1))).convert("L"))

    assert (pixels[:, -12:] == 255).all()
