"""One void of a measurement in words, from figures by hand and from a drawn picture."""

import math

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.void_told import void_at, void_by_size
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


def words(told: dict | None) -> str | None:
    return told and told["words"].replace("\N{NO-BREAK SPACE}", " ")


def test_a_void_is_told_by_kind_size_direction_and_way_to_the_edge():
    assert words(void_at(row(), 101, 52, 0)) == (
        "Counted: pinhole, 0.8 mm across, 14 mm from the edge of the inspected surface. "
        "By size it is void 1 of 2."
    )
    assert words(void_at(row(), 300, 50, 0)) == (
        "Counted: line, 0.5 mm across, 4 mm long, 22° off the tows, "
        "6 mm from the edge of the inspected surface. By size it is void 2 of 2."
    )


@pytest.mark.parametrize(
    ("x", "reach", "kind"),
    [(120, 16, "pinhole"), (120, 15, None), (210, 200, "line"), (math.nan, 9, None)],
)
def test_the_nearest_within_reach_of_its_rim_is_meant(x, reach, kind):
    # From 120 it is 20 px to the middle of the pinhole, 16 to its rim; from 210 it is 110 - 4
    # to that rim and 90 - 2.5 to the line's.
    told = void_at(row(), x, 50, reach)

    assert told is None if kind is None else kind in told["words"]


def test_they_are_told_from_the_largest_on_and_none_is_left_out():
    sizes = (0.3, 0.9, 0.3, 0.5)
    voids = [
        {"x": 100.0 * at, "y": 0.0, "d_px": 10 * mm, "d_mm": mm, "shape": "round"}
        for at, mm in enumerate(sizes)
    ]
    kept = row(voids=voids, each=None)

    told = [void_by_size(kept, rank) for rank in range(1, 5)]

    assert [(one["x"], one["r_px"], one["rank"]) for one in told] == [
        (100, 4.5, 1),
        (300, 2.5, 2),
        (0, 1.5, 3),
        (200, 1.5, 4),
    ]
    assert told[1] == void_at(kept, 300, 0, 0)  # by a tap as by size
    assert void_by_size(kept, 0) is None and void_by_size(kept, 5) is None


def test_of_a_tilted_photo_the_larger_is_the_one_of_more_millimetres():
    far, near = VOIDS[0] | {"d_px": 6.0, "d_mm": 0.9}, VOIDS[1] | {"d_px": 8.0, "d_mm": 0.8}

    assert void_by_size(row(voids=[near, far]), 1)["r_px"] == 3


def test_without_a_scale_sizes_are_in_pixels_and_older_measurements_tell_what_they_have():
    bare = [void | {"d_mm": None} for void in VOIDS]

    assert "8 px across, 140 px from" in words(void_at(row(voids=bare), 100, 50, 0))
    assert words(void_at(row(voids=VOIDS[1:], each=None), 300, 50, 0)) == (
        "Counted: long, 0.5 mm across."
    )
    assert void_at(row(voids=[]), 300, 50, 9) is None


def test_every_counted_void_of_a_photo_is_kept_with_its_shape(session: Session, store):
    kept = measured(session, store)
    session.flush()
    session.expire(kept)

    assert {len(values) for values in kept.result["each"].values()} == {kept.count}
    void = kept.result["voids"][0]
    assert "from the edge" in words(void_at(kept, void["x"], void["y"], 0))
    assert void_by_size(kept, kept.count) and not void_by_size(kept, kept.count + 1)
