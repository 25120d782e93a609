"""One void of a measurement in words, from figures by hand and from a drawn picture."""

import math

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.void_told import void_words
from defectlog.records import Measurement
from tests.bench.test_how_made import measured, store

__all__ = ["store"]  # a fixture

# 10 px a millimetre: a pinhole of 0.8 mm, and a line 0.5 mm across and 4 mm long.
VOIDS = [
    {"x": 100.0, "y": 50.0, "d_px": 8.0, "d_mm": 0.8, "shape": "round"},
    {"x": 300.0, "y": 50.0, "d_px": 5.0, "d_mm": 0.5, "shape": "long"},
]
EACH = {
    "longest_px": [8.4, 40.0],
    "aspect": [1.1, 8.0],
    "direction_deg": [0, 30],
    "to_weave_deg": [None, 22],
    "edge_px": [140, 60],
    "kind": ["pinhole", "line"],
}


def row(**result) -> Measurement:
    return Measurement(result={"voids": VOIDS, "each": EACH, **result})


def words(said: str | None) -> str | None:
    return said and said.replace("\N{NO-BREAK SPACE}", " ")


def test_a_void_is_told_by_kind_size_direction_and_way_to_the_edge():
    assert words(void_words(row(), 101, 52, 0)) == (
        "Counted: pinhole, 0.8 mm across, 14 mm from the edge of the inspected surface."
    )
    assert words(void_words(row(), 300, 50, 0)) == (
        "Counted: line, 0.5 mm across, 4 mm long, 22° off the tows, "
        "6 mm from the edge of the inspected surface."
    )


@pytest.mark.parametrize(
    ("x", "reach", "kind"),
    [(120, 16, "pinhole"), (120, 15, None), (210, 200, "line"), (math.nan, 9, None)],
)
def test_the_nearest_within_reach_of_its_rim_is_meant(x, reach, kind):
    # From 120 it is 20 px to the middle of the pinhole, 16 to its rim; from 210 it is 110 - 4
    # to that rim and 90 - 2.5 to the line's.
    said = void_words(row(), x, 50, reach)

    assert said is None if kind is None else kind in said


def test_without_a_scale_sizes_are_in_pixels_and_older_measurements_tell_what_they_have():
    bare = [void | {"d_mm": None} for void in VOIDS]

    assert "8 px across, 140 px from" in words(void_words(row(voids=bare), 100, 50, 0))
    assert words(void_words(row(each=None), 300, 50, 0)) == "Counted: long, 0.5 mm across."
    assert void_words(row(voids=[]), 300, 50, 9) is None


def test_every_counted_void_of_a_photo_is_kept_with_its_shape(session: Session, store):
    kept = measured(session, store)
    session.flush()
    session.expire(kept)

    assert {len(values) for values in kept.result["each"].values()} == {kept.count}
    void = kept.result["voids"][0]
    assert "from the edge" in void_words(kept, void["x"], void["y"], 0)
