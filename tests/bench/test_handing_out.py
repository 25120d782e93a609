"""What is handed out: the report says what was decided, the export is open, neither says where."""

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pymupdf
import pytest
from PIL import Image
from sqlalchemy import text

from defectlog.bench.demould import demould_pdf
from defectlog.bench.export import write_export
from defectlog.bench.findings import add_mark
from defectlog.bench.intake import take_in
from defectlog.bench.upkeep import Kept
from defectlog.cli import cli
from defectlog.errors import NotFoundError
from defectlog.photos.stripped import stripped
from defectlog.records import Face, PhotoStage, Shape
from tests.builders import NOON
from tests.workshops import LATER, make_workshop

SECRETS = (b"GPS", b"Workshop Phone 9", b"customer's yard", b"trailing film")


def with_place(form: str = "JPEG", orientation: int = 6) -> bytes:
    """A photo that says where, with what and by whom it was taken, in every way it can."""
    grey = np.random.default_rng(8).integers(60, 190, (60, 80, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Workshop Phone 9"
    exif.get_ifd(0x8825).update({1: "N", 2: (50.0, 30.0, 1.5), 3: "W", 4: (4.0, 10.0, 2.5)})
    out = io.BytesIO()
    more = {"comment": b"customer's yard"} if form == "JPEG" else {}
    Image.fromarray(grey).save(out, form, exif=exif.tobytes(), **more)
    return out.getvalue() + (b"trailing film" if form == "JPEG" else b"")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    made = make_workshop(tmp_path_factory.mktemp("out") / "workshop", photos=1)
    words = {"face": Face.BAG, "stage": PhotoStage.DEMOULD, "at": NOON, "name": "yard.jpg"}
    with made.records.writing.begin() as session:
        take_in(session, made.store, 1, with_place(), **words)
        session.execute(text("UPDATE build SET note = '=HYPERLINK(1)'"))
        session.execute(text("UPDATE part SET name = 'Door <img onerror=x> #panic()'"))
    yield made
    made.records.close()


def test_a_jpeg_loses_its_place_and_no_bit_of_its_picture() -> None:
    data = with_place()
    bare, ending = stripped(data, max_px=10_000)

    assert ending == "jpg" and not any(secret in bare for secret in SECRETS)
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(bare)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        assert dict(after.getexif()) == {0x0112: 6}
        assert "comment" not in after.info


@pytest.mark.parametrize("form", ["PNG", "WEBP", "TIFF"])
def test_other_formats_lose_it_too_and_come_out_upright(form: str) -> None:
    bare, _ = stripped(with_place(form), max_px=10_000)

    assert not any(secret in bare for secret in SECRETS)
    with Image.open(io.BytesIO(bare)) as after:
        assert after.size == (60, 80) and dict(after.getexif()) == {}


def pdf_of(kept: Kept, number: int = 1) -> bytes:
    with kept.records.read() as session:
        return demould_pdf(session, kept.store, number, at=LATER)


def test_the_report_says_what_was_made_found_decided_and_measured(kept: Kept) -> None:
    pdf = pdf_of(kept)
    said = "".join(page.get_text() for page in pymupdf.open(stream=pdf)).replace("\n", " ")

    for words in (
        "Door <img onerror=x> #panic()",
        "sanded, filled",
        "Repair, 2 Mar 2026",
        "Dry spot",
        "Void fraction 1.2 %",
        "95 %",
        "No scale",
        "21.5",
        "=HYPERLINK(1)",
    ):
        assert words in said.replace("\N{NO-BREAK SPACE}", " "), words
    assert sum(len(page.get_images()) for page in pymupdf.open(stream=pdf)) == 2


def test_the_report_never_says_where_a_photo_was_taken(kept: Kept) -> None:
    document = pymupdf.open(stream=pdf_of(kept))
    assert not any(secret in document.tobytes(expand=255) for secret in SECRETS[:3])
    for page in document:
        for picture in page.get_images():
            drawn = document.extract_image(picture[0])["image"]
            with Image.open(io.BytesIO(drawn)) as opened:
                assert dict(opened.getexif()) == {}


def test_a_report_of_no_build_is_not_found(kept: Kept) -> None:
    with pytest.raises(NotFoundError):
        pdf_of(kept, 99)


@pytest.fixture(scope="module")
def exported(kept: Kept, tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    place = tmp_path_factory.mktemp("zip") / "e.zip"
    list(write_export(kept, place, at=LATER))
    return zipfile.ZipFile(place)


def rows(held: zipfile.ZipFile, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(held.read(name).decode())))


def test_the_export_opens_with_other_tools(exported: zipfile.ZipFile) -> None:
    names = exported.namelist()
    assert {"README.txt", "builds.csv", "annotations.jsonld", "tables/columns.csv"} <= set(names)
    (build,) = rows(exported, "builds.csv")
    cure = next(value for head, value in build.items() if "[°C]" in head)
    assert cure == "21.5"
    (measured,) = json.loads(exported.read("tables/measurement.json"))
    assert measured["void_fraction"] == 0.0123
    units = {(r["table"], r["column"]): r["unit"] for r in rows(exported, "tables/columns.csv")}
    assert units["measurement", "largest_mm"] == "mm"
    assert units["measurement", "density_per_cm2"] == "1/cm²"


def test_no_text_of_the_export_is_run_as_a_formula(exported: zipfile.ZipFile) -> None:
    assert rows(exported, "tables/build.csv")[0]["note"] == "'=HYPERLINK(1)"


def test_the_export_says_nothing_of_places_and_of_who_may_come_in(exported) -> None:
    everything = b"".join(exported.read(name) for name in exported.namelist())
    assert not any(secret in everything for secret in SECRETS)
    assert not any("device" in name or "passphrase" in name for name in exported.namelist())


def test_with_position_the_originals_are_byte_for_byte(kept: Kept, tmp_path: Path) -> None:
    list(write_export(kept, tmp_path / "e.zip", at=LATER, with_position=True))

    with zipfile.ZipFile(tmp_path / "e.zip") as held:
        assert held.read("photos/build-1-photo-2.jpg") == with_place()
        assert b"WITH all the camera wrote" in held.read("README.txt")


def test_marks_are_web_annotations_on_the_photos_of_the_export(exported) -> None:
    page = json.loads(exported.read("annotations.jsonld"))
    assert page["@context"] == "http://www.w3.org/ns/anno.jsonld"
    (mark,) = page["first"]["items"]
    assert mark["type"] == "Annotation" and mark["target"]["source"] in exported.namelist()
    selector = mark["target"]["selector"]
    assert selector["type"] == "SvgSelector"
    # The line of the workshop's finding, from (5, 5) to (50, 40) of a photo of 80 × 60 px.
    assert 'viewBox="0 0 80 60"' in selector["value"]
    assert '<polyline points="5,5 50,40"/>' in selector["value"]


DRAWN = {
    Shape.POINT: [[12.3, 45.6]],
    Shape.LINE: [[1.2, 3.4], [30.5, 6.7], [61.25, 40.0]],
    Shape.OUTLINE: [[5.5, 5.5], [40.1, 7.9], [22.2, 33.3]],
    Shape.BOX: [[50.5, 30.25], [10.0, 12.5]],
}


def read_back(svg: str) -> list[list[float]]:
    """The points of a shape by a plain XML reader, as the SVG 1.1 recommendation has them."""
    (shape,) = ElementTree.fromstring(svg)
    at = {name: float(text) for name, text in shape.items() if name != "points"}
    match shape.tag.rpartition("}")[2]:
        case "circle":
            return [[at["cx"], at["cy"]]]
        case "rect":
            corner = [at["x"], at["y"]]
            return [corner, [at["x"] + at["width"], at["y"] + at["height"]]]
        case _:
            pairs = shape.get("points", "").split()
            return [[float(value) for value in pair.split(",")] for pair in pairs]


@pytest.mark.parametrize("drawn", DRAWN)
def test_a_mark_comes_back_from_its_annotation_where_it_was_drawn(tmp_path: Path, drawn) -> None:
    made = make_workshop(tmp_path / "workshop", photos=1)
    with made.records.writing.begin() as session:
        mark = add_mark(session, 1, drawn, DRAWN[drawn], kind="dry-spot", at=NOON)
        key = f"urn:defectlog:mark:{mark.id}"
    list(write_export(made, tmp_path / "e.zip", at=LATER, with_position=False))
    made.records.close()

    with zipfile.ZipFile(tmp_path / "e.zip") as held:
        items = json.loads(held.read("annotations.jsonld"))["first"]["items"]
    (svg,) = [one["target"]["selector"]["value"] for one in items if one["id"] == key]
    wanted = sorted(DRAWN[drawn]) if drawn is Shape.BOX else DRAWN[drawn]
    assert np.abs(np.array(read_back(svg)) - np.array(wanted)).max() < 0.1


def test_far_out_on_a_wide_photo_a_mark_is_told_as_closely(tmp_path: Path) -> None:
    wide = io.BytesIO()
    Image.new("L", (20_000, 40), 120).save(wide, "JPEG")
    made = make_workshop(tmp_path / "workshop", photos=1)
    words = {"face": Face.BAG, "stage": PhotoStage.DEMOULD, "at": NOON, "name": "wide.jpg"}
    corners = [[12_345.67, 8.91], [19_876.54, 31.23]]
    with made.records.writing.begin() as session:
        photo = take_in(session, made.store, 1, wide.getvalue(), **words).photo
        session.flush()
        add_mark(session, photo.id, Shape.BOX, corners, kind="dry-spot", at=NOON)
    list(write_export(made, tmp_path / "e.zip", at=LATER))
    made.records.close()

    with zipfile.ZipFile(tmp_path / "e.zip") as held:
        *_, last = json.loads(held.read("annotations.jsonld"))["first"]["items"]
    svg = last["target"]["selector"]["value"]
    assert np.abs(np.array(read_back(svg)) - np.array(corners)).max() < 0.015


def test_a_jpeg_with_odd_bytes_between_its_segments_is_handed_out_too() -> None:
    data = with_place()
    odd = data[:2] + b"\xff\xe5\0\2\0\0\0" + data[2:]

    bare, ending = stripped(odd, max_px=10_000)

    assert ending == "jpg" and not any(secret in bare for secret in SECRETS)
    with Image.open(io.BytesIO(bare)) as after:
        assert after.size == (60, 80) and dict(after.getexif()) == {}


def test_the_commands_write_both(kept: Kept, tmp_path: Path) -> None:
    from click.testing import CliRunner

    for words in (["report", "1"], ["export"]):
        out = tmp_path / f"{words[0]}.out"
        done = CliRunner().invoke(cli, [*words, "--folder", str(kept.folder), "-o", str(out)])
        assert done.exit_code == 0, done.stderr
        assert out.stat().st_size > 1000
    missing = ["report", "99", "--folder", str(kept.folder), "-o", str(tmp_path / "x.pdf")]
    done = CliRunner().invoke(cli, missing)
    assert done.exit_code == 2 and not (tmp_path / "x.pdf").exists()
