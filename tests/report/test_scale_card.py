"""The scale card, printed to pixels and measured there with other tools than drew it."""

import numpy as np
import pymupdf
import pytest

from defectlog.measure.lengths.card import CARD_LAYOUTS
from defectlog.measure.lengths.markers import find_card
from defectlog.report.scale_card import CHECK_LINE_MM, scale_card_pdf

DPI = 600
PX_PER_MM = DPI / 25.4  # the inch is 25.4 mm exactly since 1959

PAPER_MM = {
    "a4": (210.0, 297.0),  # ISO 216
    "letter": (215.9, 279.4),  # 8.5 in × 11 in
    "id1": (85.60, 53.98),  # ISO/IEC 7810, ID-1
}


def printed(paper: str) -> np.ndarray:
    page = pymupdf.open(stream=scale_card_pdf(paper), filetype="pdf")[0]
    pixmap = page.get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY)
    return np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width)


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_page_is_one_sheet_of_its_standard_size(paper):
    document = pymupdf.open(stream=scale_card_pdf(paper), filetype="pdf")

    assert len(document) == 1
    points = document[0].rect
    # A PDF counts in points of 1/72 in.
    assert (points.width * 25.4 / 72, points.height * 25.4 / 72) == pytest.approx(
        PAPER_MM[paper], abs=0.005
    )


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_card_finder_reads_the_print_true_to_size(paper):
    scale = find_card(printed(paper))

    assert scale is not None
    assert scale.px_per_mm == pytest.approx(PX_PER_MM, rel=1e-3)
    # The cosine hardly moves near square-on: cos 2° = 0.9994.
    assert scale.tilt_deg == pytest.approx(0, abs=2)
    outline = np.array(scale.card_outlines[0])
    width_mm, height_mm = np.ptp(outline, axis=0) / PX_PER_MM
    expected = (85.60, 53.98) if paper == "id1" else (100, 80)
    assert (width_mm, height_mm) == pytest.approx(expected, abs=0.1)


def ends_mm(darkness: np.ndarray) -> tuple[float, float]:
    """Middles of the first and the last dark stretch of a line of pixels, in mm."""
    dark = np.flatnonzero(darkness > 64)
    breaks = np.flatnonzero(np.diff(dark) > 1)
    first, last = dark[: breaks[0] + 1], dark[breaks[-1] + 1 :]
    middles = [np.average(run + 0.5, weights=darkness[run]) for run in (first, last)]
    return middles[0] / PX_PER_MM, middles[1] / PX_PER_MM


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_ruled_edge_is_as_long_as_it_says_in_pixels(paper):
    layout = CARD_LAYOUTS[paper]
    # A row through the ticks, 1 mm above the edge, without the outline at either side.
    y = layout.at_mm[1] + layout.size_mm[1] - 1
    x = layout.at_mm[0]
    picture = printed(paper)
    from_px, to_px = round((x + 1) * PX_PER_MM), round((x + layout.size_mm[0] - 1) * PX_PER_MM)
    row = 255.0 - picture[round(y * PX_PER_MM), from_px:to_px]

    start, end = ends_mm(row)

    says = layout.ruled_edge.end_mm[0] - layout.ruled_edge.start_mm[0]
    assert end - start == pytest.approx(says, abs=0.02)
    dark = row > 64
    ticks = np.count_nonzero(np.diff(dark.astype(int)) == 1)
    assert ticks == says / layout.ruled_edge.tick_mm + 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_both_check_lines_are_as_long_as_they_say(paper):
    layout = CARD_LAYOUTS[paper]
    page = pymupdf.open(stream=scale_card_pdf(paper), filetype="pdf")[0]
    lines = []
    for drawing in page.get_drawings():
        if drawing["items"][0][0] == "l":
            _, start, end = drawing["items"][0]
            lines.append((abs(end.x - start.x) * 25.4 / 72, abs(end.y - start.y) * 25.4 / 72))

    assert CHECK_LINE_MM == 120
    across = [width for width, height in lines if height < 1e-3 and width > 100.5]
    down = [height for width, height in lines if width < 1e-3 and height > 80.5]
    assert across == pytest.approx([120], abs=0.005)
    assert down == pytest.approx([120], abs=0.005)
    assert layout.size_mm == (100, 80)  # so that neither is an edge of the card


@pytest.mark.parametrize("paper", PAPER_MM)
def test_nothing_on_the_card_comes_near_a_marker(paper):
    layout = CARD_LAYOUTS[paper]
    picture = printed(paper)

    for marker in layout.markers:
        white = marker.side_mm / 4 - 0.1
        x, y = layout.at_mm[0] + marker.x_mm, layout.at_mm[1] + marker.y_mm
        around = picture[
            round((y - white) * PX_PER_MM) : round((y + marker.side_mm + white) * PX_PER_MM),
            round((x - white) * PX_PER_MM) : round((x + marker.side_mm + white) * PX_PER_MM),
        ].copy()
        edge = round(white * PX_PER_MM)
        around[edge - 2 : -edge + 2, edge - 2 : -edge + 2] = 255
        assert around.min() == 255


def test_the_black_of_a_marker_shows_no_seams():
    marker = CARD_LAYOUTS["a4"].markers[0]
    left, top = (
        CARD_LAYOUTS["a4"].at_mm[0] + marker.x_mm,
        CARD_LAYOUTS["a4"].at_mm[1] + marker.y_mm,
    )
    cell = marker.side_mm / 6
    # The top border of a marker: one row of six black cells.
    border = printed("a4")[
        round((top + 0.2) * PX_PER_MM) : round((top + cell - 0.2) * PX_PER_MM),
        round((left + 0.2) * PX_PER_MM) : round((left + marker.side_mm - 0.2) * PX_PER_MM),
    ]

    assert border.max() == 0


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_page_carries_its_letters_and_says_how_to_check_it(paper):
    page = pymupdf.open(stream=scale_card_pdf(paper), filetype="pdf")[0]
    words = page.get_text().replace("\N{NO-BREAK SPACE}", " ")

    assert {font[3].partition("+")[2].partition("-")[0] for font in page.get_fonts()} == {
        "AtkinsonHyperlegibleNext"
    }
    assert "steel rule" in words
    assert "100 %" in words
    assert not page.get_images()


def test_the_same_card_is_the_same_file():
    assert scale_card_pdf("id1") == scale_card_pdf("id1")
