"""Grooves of a core that was cut for bending: long straight rows of what shows of them."""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import IndexArray, rows_and_columns
from defectlog.measure.outlines.shapes import LONG_FROM, Shapes

# A groove is a straight row so wide, at least half as long as the picture is high, of so many
# places and so many times what would lie there by chance, some of them in nearly each of its
# parts; most of what hardly counts lies in such rows, with nearly all of itself.
WIDE_MM, LONG, LEAST_IN_ROW, TIMES_STREWN = 0.8, 0.5, 12, 6
PARTS, FILLED = 8, 7
MOSTLY, NEARLY_ALL = 0.5, 0.8


def in_grooves(
    shapes: Shapes, which: IndexArray, shape: tuple[int, int], *, px_per_mm: float
) -> BoolImage:
    """Which of some objects lie in long straight rows of them, if most of them do.

    Parameters
    ----------
    shapes : of all objects
    which : (m,) numbers of those that are looked at
    shape : of the picture they are of
    px_per_mm : of that

    Returns
    -------
    (m,) bool

    Notes
    -----
    A groove shows in pieces, and where it crosses another these have arms along both: their
    middles lie in no row, but nearly all of their pixels lie in one or the other.
    """
    width = WIDE_MM * px_per_mm
    rows = list(_rows(_places(shapes, which, width, shape[1]), min(shape), width))
    nothing = np.zeros(len(which), dtype=bool)
    if not rows:
        return nothing
    number = np.full(len(shapes.area), -1)
    number[which] = np.arange(len(which))
    own = number.take(shapes.label)
    some = own >= 0
    y, x = rows_and_columns(shapes.at[some], shape[1])
    within = np.zeros(len(y), dtype=bool)
    for turn, middle in rows:
        within |= np.abs(y * math.cos(turn) - x * math.sin(turn) - middle) < width
    share = np.bincount(own[some], within, len(which)) / shapes.area[which]
    found = share > NEARLY_ALL
    enough = np.count_nonzero(found) >= max(LEAST_IN_ROW, MOSTLY * len(which))
    return found if enough else nothing


def _places(shapes: Shapes, which: IndexArray, width: float, columns: int) -> NDArray[np.float64]:
    """Where some objects lie, (n, 2) rows and columns: long ones all along, others in one place."""
    is_long = np.zeros(len(shapes.area), dtype=bool)
    is_long[which] = shapes.longest[which] > LONG_FROM * width
    short = which[~is_long[which]]
    y, x = rows_and_columns(shapes.at[is_long.take(shapes.label)], columns)
    cell = (y / width).astype(np.int64) * columns + (x / width).astype(np.int64)
    _, cell, often = np.unique(cell, return_inverse=True, return_counts=True)
    along = [np.bincount(cell, at, len(often)) / often for at in (y, x)]
    return np.hstack([[shapes.y[short], shapes.x[short]], along]).T


def _rows(places: NDArray[np.float64], side_px: int, width: float) -> Iterator[tuple[float, float]]:
    """Long straight rows of places (n, 2): how each is turned, and how far aside its middle is."""
    for turn in np.radians(np.arange(180) if len(places) >= LEAST_IN_ROW else []):
        along = places @ (math.sin(turn), math.cos(turn))
        aside = places @ (math.cos(turn), -math.sin(turn))
        first = aside.min()
        strip = ((aside - first) * 2 / width).astype(np.int64)
        count = np.bincount(strip, minlength=2)
        count = count[:-1] + count[1:]  # strips overlap by half
        strewn = len(places) * 2 / len(count)
        for k in np.flatnonzero(count >= max(LEAST_IN_ROW, TIMES_STREWN * strewn)):
            row = np.flatnonzero((strip == k) | (strip == k + 1))
            far = along[row] - along[row].min()
            part = np.minimum(far * PARTS / max(far.max(), 1), PARTS - 1).astype(np.int64)
            if far.max() > LONG * side_px and len(np.unique(part)) >= FILLED:
                yield turn, first + (k + 1) * width / 2
