"""Sizes, kinds and how voids lie, in words: from a drawn picture and from figures by hand."""

from sqlalchemy.orm import Session

from defectlog.bench.rejected import rejected_of, rejected_words
from defectlog.bench.shape_words import shape_words, size_rows
from defectlog.measure.outlines.judging import MOST
from defectlog.records import Measurement
from tests.bench.test_how_made import measured, store

__all__ = ["store"]  # a fixture


def row_of(**result) -> Measurement:
    return Measurement(count=len(result["diameters_px"]), result={"diameters_mm": None, **result})


def test_a_measured_photo_says_sizes_kinds_and_how_its_voids_lie(session: Session, store):
    row = measured(session, store)
    session.expire(row)

    sizes, kinds, *lying = shape_words(row)

    assert sizes.startswith("Half of them below ") and "\xa0mm across" in sizes
    assert "pinholes" in kinds
    # They were drawn wherever chance had it, but never touching.
    assert lying[0].startswith("They lie ")


def test_half_and_nine_in_ten_are_those_of_the_sizes():
    # Eleven sizes from 2 to 12 px: the middle one is 7, the tenth of eleven 11.
    row = row_of(diameters_px=[float(d) for d in range(2, 13)], kinds={"pinhole": 10, "line": 1})

    assert shape_words(row) == [
        "Half of them below 7\xa0px across, nine in ten below 11\xa0px",
        "By shape: 10 pinholes, 1 line",
    ]


def test_the_table_of_sizes_counts_between_preferred_numbers():
    # By hand: 0.5 and 0.6 lie between 0.4 and 0.63; none up to 1; 1.0, 1.2, 1.5 and 1.59 up to 1.6.
    row = row_of(diameters_px=[9.0] * 6, diameters_mm=[0.5, 1.0, 1.2, 0.6, 1.5, 1.59])

    assert size_rows(row) == [
        {"size_words": "0.4 to 0.63\xa0mm", "count_words": "2", "share": 0.5},
        {"size_words": "0.63 to 1\xa0mm", "count_words": "0", "share": 0.0},
        {"size_words": "1 to 1.6\xa0mm", "count_words": "4", "share": 1.0},
    ]
    assert size_rows(row_of(diameters_px=[9.0] * 6))[0]["size_words"] == "6.3 to 10\xa0px"
    assert size_rows(row_of(diameters_px=[9.0] * 4)) == []


def test_a_measurement_from_before_they_were_kept_tells_sizes_alone():
    assert len(shape_words(row_of(diameters_px=[3.0] * 6))) == 1
    assert shape_words(row_of(diameters_px=[3.0])) == []


def test_where_more_was_turned_away_than_is_kept_the_words_say_so(session: Session, store):
    row = measured(session, store)
    spot = {"x": 5.0, "y": 5.0, "d_px": 3.0, "why": "below what this photo can show"}
    row.result = row.result | {"rejected": [spot] * MOST}

    assert rejected_of(row).count == MOST
    assert rejected_words(row)["words"] == (
        "The 500 largest spots looked at and not counted; smaller ones are not kept."
    )
