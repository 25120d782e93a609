"""What shows of dyed yarns between their dashes, and voids that lie there by chance."""

import numpy as np
import pytest

from defectlog.measure.arrays.pixels import listed
from defectlog.measure.candidates.along_yarns import AlongYarns
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.yarns import yarns_of
from defectlog.measure.cloth.weave_objects import objects_of
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.shapes import shapes_of

SHAPE, REPEAT, LONG, WIDE = (600, 800), 90, 30, 16
LINES = (100, 300, 500)


def along() -> AlongYarns:
    """Three yarns along rows, each a dash in every repeat."""
    y, x = np.indices(SHAPE)
    dashes = np.zeros(SHAPE, bool)
    for row in LINES:
        dashes |= (np.abs(y - row) <= WIDE / 2) & ((x + row) % REPEAT < LONG)
    objects = objects_of(dashes, listed(dashes))
    every = np.arange(len(objects.areas)) > 0
    return AlongYarns.of(yarns_of(objects, every, SHAPE[1]), SHAPE)


def found(places: list[tuple[int, int]], high: int = 5) -> Found:
    """Voids 3 px wide and so many high."""
    mask = np.zeros(SHAPE, bool)
    for row, column in places:
        mask[row - high // 2 : row + high // 2 + 1, column - 1 : column + 2] = True
    shapes = shapes_of(mask)
    ones, none = np.ones(len(shapes.area)), np.zeros(SHAPE, bool)
    return Found(mask, shapes, shapes.area, ones > 0, ones, ones, "dark", 0.2, 1.0, (), none, [])


def between(count: int) -> list[tuple[int, int]]:
    """Places on the lines of yarns, in the middle between two dashes."""
    gap = (LONG + REPEAT) // 2
    every = [(row, k * REPEAT + gap - row % REPEAT) for k in range(1, 8) for row in LINES]
    return every[:count]


def beside(count: int) -> list[tuple[int, int]]:
    """Places further from all lines than yarns are wide."""
    rng = np.random.default_rng(4)
    rows = [row for row in range(20, 580, 15) if min(abs(row - on) for on in LINES) > WIDE]
    return [(rows[k % len(rows)], int(rng.integers(20, 780))) for k in range(count)]


@pytest.mark.parametrize("others", [0, 40])
def test_far_more_along_yarns_than_beside_them_is_theirs(others):
    places = between(18) + beside(others)

    told = along().without(found(places), np.ones(SHAPE, bool))

    assert np.count_nonzero(told.kept) == len(found(places).kept) - 18
    assert [one.why for one in told.turned] == [judging.WEAVE]
    # It may be voids for all that: the upper limit has room for them.
    assert told.doubtful_px == 18 * 15
    assert told.struck.sum() == 18 * 15


def test_voids_that_lie_there_by_chance_count():
    # A twentieth of the surface lies along these yarns, and a twelfth of the voids.
    one = found(between(6) + beside(70))

    assert along().drawn().mean() == pytest.approx(0.055, abs=0.005)
    assert along().without(one, np.ones(SHAPE, bool)) is one


def test_what_is_longer_than_yarns_are_wide_is_none_of_them():
    one = found(between(18), high=2 * WIDE + 1)

    assert along().without(one, np.ones(SHAPE, bool)) is one
