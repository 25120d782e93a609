"""Grooves of a core that was cut for bending: long straight rows of what shows of them."""

import math

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import by_halves
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
    rows = _rows(_places(shapes, which, width, shape), min(shape), width)
    nothing = np.zeros(len(which), dtype=bool)
    least = max(LEAST_IN_ROW, MOSTLY * len(which))
    # None of an object lies further off its middle than it is long.
    reach = width + shapes.longest[which]
    if np.count_nonzero(_within(shapes.y[which], shapes.x[which], rows, reach)) < least:
        return nothing
    number = np.full(len(shapes.area), -1)
    number[which] = np.arange(len(which))
    own = number.take(shapes.label)
    some = np.flatnonzero(own >= 0)
    own, at = own.take(some), shapes.at.take(some)

    def within(part: slice) -> BoolImage:
        y, x = (of.astype(np.float64) for of in rows_and_columns(at[part], shape[1]))
        return _within(y, x, rows, width)

    inside = np.concatenate(by_halves(within, len(at)))
    share = np.bincount(own, inside, len(which)) / shapes.area[which]
    found = share > NEARLY_ALL
    return found if np.count_nonzero(found) >= least else nothing


def _within(
    y: NDArray[np.float64],
    x: NDArray[np.float64],
    rows: dict[float, NDArray[np.float64]],
    reach: float | NDArray[np.float64],
) -> BoolImage:
    """Which places (n,) lie so near to the middle of any of the rows; see ``_rows``."""
    inside = np.zeros(len(y), dtype=bool)
    reach = np.broadcast_to(reach, len(y))
    for turn, middles in rows.items():
        rest = np.flatnonzero(~inside)
        aside = y[rest] * math.cos(turn) - x[rest] * math.sin(turn)
        after = np.searchsorted(middles, aside)
        near = np.abs(aside - middles.take(after, mode="clip")) < reach[rest]
        near |= np.abs(aside - middles.take(after - 1, mode="clip")) < reach[rest]
        inside[rest] = near
    return inside


def _places(
    shapes: Shapes, which: IndexArray, width: float, shape: tuple[int, int]
) -> NDArray[np.float64]:
    """Where some objects lie, (n, 2) rows and columns: long ones all along, others in one place."""
    is_long = np.zeros(len(shapes.area), dtype=bool)
    is_long[which] = shapes.longest[which] > LONG_FROM * width
    short = which[~is_long[which]]
    y, x = rows_and_columns(shapes.at[is_long.take(shapes.label)], shape[1])
    side = max(width, 1.0)
    cell = (y / side).astype(np.int64) * math.ceil(shape[1] / side) + (x / side).astype(np.int64)
    often = np.bincount(cell)
    there = np.flatnonzero(often)
    along = [np.bincount(cell, at)[there] / often[there] for at in (y, x)]
    return np.hstack([[shapes.y[short], shapes.x[short]], along]).T


def _rows(
    places: NDArray[np.float64], side_px: int, width: float
) -> dict[float, NDArray[np.float64]]:
    """Long straight rows of places (n, 2): by how they are turned, how far aside their middles."""
    rows = {}
    for turn in np.radians(np.arange(180) if len(places) >= LEAST_IN_ROW else []):
        aside = places @ (math.cos(turn), -math.sin(turn))
        first = aside.min()
        strip = ((aside - first) * 2 / width).astype(np.int64)
        count = np.bincount(strip, minlength=2)
        count = count[:-1] + count[1:]  # strips overlap by half
        strewn = len(places) * 2 / len(count)
        least = max(LEAST_IN_ROW, TIMES_STREWN * strewn)
        if count.max() < least:
            continue
        along = places @ (math.sin(turn), math.cos(turn))
        long = _lengths(along, strip, len(count)) > LONG * side_px
        full = [
            k
            for k in np.flatnonzero(long & (count >= least))
            if _is_filled(along[(strip == k) | (strip == k + 1)])
        ]
        if full:
            rows[turn] = first + (np.array(full) + 1) * width / 2
    return rows


def _lengths(along: NDArray[np.float64], strip: IndexArray, count: int) -> NDArray[np.float64]:
    """How far what lies in each of so many strips reaches along it; see ``_rows``."""
    least, most = np.full(count + 1, np.inf), np.full(count + 1, -np.inf)
    np.minimum.at(least, strip, along)
    np.maximum.at(most, strip, along)
    return np.maximum(most[:-1], most[1:]) - np.minimum(least[:-1], least[1:])


def _is_filled(along: NDArray[np.float64]) -> bool:
    """Whether of a strip nearly each part holds something, from how far along it all lies."""
    far = along - along.min()
    part = np.minimum(far * PARTS / max(far.max(), 1), PARTS - 1).astype(np.int64)
    return np.count_nonzero(np.bincount(part)) >= FILLED
