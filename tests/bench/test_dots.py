"""What a photo of the dot sheet says, in sentences; and that a wrong file is one sentence."""

import dataclasses
import io
from pathlib import Path

import pytest

from defectlog.bench.dots import (
    field_words,
    measure_dot_file,
    measure_dots,
    reading_json,
    reading_words,
    summary_words,
)
from defectlog.errors import FieldError
from defectlog.measure.dot_reading import DiameterReading, DotReading, FieldReading
from defectlog.measure.lengths.scale import Scale
from defectlog.photos.refusals import ForeignFileError
from tests.dot_photo import photographed


def field(printed: float, measured: float, low: float, high: float) -> FieldReading:
    return FieldReading("D", printed, measured, low, high, 10, 10, ())


def reading(*fields: FieldReading, **more) -> DotReading:
    made = DotReading("a4", Scale("card", px_per_mm=9.0), fields, (), ())
    return dataclasses.replace(made, **more)


def plain(words: str) -> str:
    return words.replace("\N{NO-BREAK SPACE}", " ")


def test_a_field_says_how_far_off_it_is_and_whether_its_interval_holds():
    held = plain(field_words(field(0.02, 0.019, 0.0175, 0.0205)))
    missed = plain(field_words(field(0.02, 0.023, 0.0215, 0.0245)))

    assert held == (
        "2.00 % printed, 1.90 % measured (95 % interval 1.75 to 2.05 %): "
        "0.1 percentage points too little, the interval holds it."
    )
    assert "0.3 percentage points too much, outside the interval" in missed


def test_one_point_off_is_one_point():
    off = plain(field_words(field(0.10, 0.0898, 0.0878, 0.0938)))

    assert "): 1 percentage point too little" in off


def test_the_summary_counts_the_intervals_that_hold_and_the_mean_error():
    # (0.001 + 0.003) / 2 = 0.002, that is 0.2 percentage points.
    said = summary_words(
        reading(field(0.02, 0.019, 0.0175, 0.0205), field(0.02, 0.023, 0.0215, 0.0245))
    )

    assert plain(said[0]) == (
        "1 interval of 2 holds the printed share; on average the measured one is "
        "0.2 percentage points off."
    )
    assert "Do not believe" in said[1]


def test_dots_that_are_all_larger_by_the_same_point_to_the_ink():
    spread = tuple(DiameterReading(d, 20, 20, d + 0.05) for d in (0.5, 1.2, 3.0))

    said = summary_words(reading(field(0.02, 0.0201, 0.019, 0.021), diameters=spread))

    assert any("0.05 mm larger across" in plain(words) for words in said)


def test_white_paper_is_said_with_what_to_do_and_nobody_is_told_to_go_closer():
    white = dataclasses.replace(field(0.02, 0.023, 0.0215, 0.0245), is_white=True)

    said = summary_words(reading(white, field(0.02, 0.019, 0.0175, 0.0205)))

    assert "burnt out to white in field D" in said[1] and "with less light" in said[1]
    assert not any("go closer" in words for words in said)


@pytest.fixture(scope="module")
def photo() -> bytes:
    return photographed("a4", px_per_mm=7)


def test_a_photo_is_read_from_its_file_and_told_field_by_field(photo, tmp_path: Path):
    file = tmp_path / "dots.jpg"
    file.write_bytes(photo)

    read = measure_dot_file(file)
    words = plain(reading_words(read))

    assert "Field A: 0.00 % printed" in words and "Field F: 10.00 % printed" in words
    assert "3 mm: 34 of 34 found" in words
    told = reading_json("dots.jpg", read)
    assert [one["field"] for one in told["fields"]] == list("ABCDEF")
    assert all(
        one["measured_low"] <= one["printed_fraction"] <= one["measured_high"]
        for one in told["fields"]
        if one["covered"]
    )


def test_a_file_that_is_no_photo_is_refused():
    with pytest.raises(ForeignFileError):
        measure_dots(io.BytesIO(b"not a picture at all, only words"))


def test_a_file_that_is_not_there_is_said(tmp_path: Path):
    with pytest.raises(FieldError, match="cannot be opened"):
        measure_dot_file(tmp_path / "gone.jpg")
