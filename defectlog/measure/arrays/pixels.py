"""The pixels of a mask as flat lists, and the objects they make."""

import math
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import both, by_halves
from defectlog.measure.arrays.light import BoolImage

IndexArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

SEARCH = 8  # as long as searching for a run takes, so many pixels are worked through


@dataclass(frozen=True, slots=True)
class Runs:
    """Pixels side by side in a row, as one: there are a tenth as many of these.

    In the order of the picture: ``first`` is the first pixel of each, as an index of the flattened
    picture, ``length`` how many it has, ``own`` which object it is of.
    """

    first: IndexArray
    length: IndexArray
    own: NDArray[np.integer]

    def of(self, at: IndexArray) -> NDArray[np.integer]:
        """Which objects pixels are of, all of which are of one."""
        return self.own.take(np.searchsorted(self.first, at, side="right") - 1)


def runs_of(at: IndexArray, label: NDArray[np.integer], columns: int) -> Runs:
    """The runs in a list of pixels in the order of a picture, with the object of each pixel."""
    start, length = _runs_in(at, columns)
    return Runs(at.take(start), length, label.take(start))


def _runs_in(at: IndexArray, columns: int) -> tuple[IndexArray, IndexArray]:
    """Where in a list of pixels runs begin, and how many pixels each has."""
    begins = np.ones(len(at), dtype=bool)
    np.not_equal(at[1:], at[:-1] + 1, out=begins[1:])
    # The last pixel of a row is not beside the first of the next.
    rows = np.searchsorted(at, np.arange(0, at[-1] + 1 if len(at) else 0, columns))
    begins[rows] = True
    start = np.flatnonzero(begins)
    return start, np.diff(start, append=len(at))


@dataclass(frozen=True, slots=True)
class Listed:
    """The pixels of objects ``at``, in the order of the picture, and the object of each, from 1.

    With their ``runs``. For each of the ``count`` objects, ``area`` is its pixels, ``sides`` are
    the sides of these that it shows, ``holes`` how many places it closes in.
    """

    count: int
    at: IndexArray
    label: NDArray[np.int32]
    runs: Runs
    area: IndexArray
    sides: IndexArray
    holes: IndexArray


def listed(objects: BoolImage) -> Listed:
    """List the pixels of the objects of a mask; what touches at a corner belongs together."""
    return listed_at(pixels_of(objects), objects.shape)


def listed_at(at: IndexArray, shape: tuple[int, int]) -> Listed:
    """List the objects that pixels make, which are in the order of a picture of such a shape.

    Objects are numbered in the order of the squares of two by two pixels that they begin in.

    Notes
    -----
    Runs that touch from one row to the next are few against pixels. What they close in are the
    rings they make (Euler): one more than these are fewer than runs.
    """
    columns = shape[1]
    start, length = _runs_in(at, columns)
    begin = at.take(start)
    row, first = rows_and_columns(begin, columns)
    last = first + length.astype(np.int32) - 1
    above, below = _touching(row, first, last, columns)
    root = _roots(len(row), above, below)
    begins = np.full(len(root), math.prod(shape), dtype=np.int64)
    np.minimum.at(begins, root, (row >> 1).astype(np.int64) * columns + (first >> 1))
    roots = np.flatnonzero(root == np.arange(len(root)))
    roots = roots[np.argsort(begins[roots])]
    number = np.empty(len(root), np.int32)
    number[roots] = np.arange(1, len(roots) + 1)
    own = number[root]

    def summed(of: IndexArray, values: IndexArray | None = None) -> IndexArray:
        return np.bincount(of, values, len(roots) + 1)[1:].astype(np.int64)

    def counted() -> tuple[IndexArray, IndexArray, IndexArray]:
        shared = np.minimum(last[above], last[below]) - np.maximum(first[above], first[below]) + 1
        rows, joints = summed(own), own[below]
        hidden = summed(joints, np.maximum(shared, 0))
        area = summed(own, length)
        return area, 2 * (rows + area - hidden), summed(joints) - rows + 1

    labels = partial(np.repeat, own, length)
    label, (area, sides, holes) = both(labels, counted, len(at))
    runs = Runs(begin, length, own)
    return Listed(len(roots), at, label, runs, area, sides, holes)


def with_filled(known: Listed, filled: IndexArray, mask: BoolImage) -> Listed:
    """List the objects of a mask once pixels that they closed in are filled, if some are.

    Mostly these are a few, and single ones: then what was known stays so, but for them.
    """
    if not len(filled):
        return known
    columns = mask.shape[1]
    filled = np.sort(filled)
    if (np.diff(filled) == 1).any() or np.isin(filled + columns, filled).any():
        return listed(mask)
    own = known.runs.of(filled - 1)
    place = np.searchsorted(known.at, filled)
    at, label = np.insert(known.at, place, filled), np.insert(known.label, place, own)
    often = np.bincount(own, minlength=known.count + 1)[1:]
    return replace(
        known,
        at=at,
        label=label,
        runs=runs_of(at, label, columns),
        area=known.area + often,
        sides=known.sides - 4 * often,
        holes=known.holes - often,
    )


def _touching(
    row: NDArray[np.int32], first: NDArray[np.int32], last: NDArray[np.int32], columns: int
) -> tuple[IndexArray, IndexArray]:
    """Pairs of runs that touch at a side or corner: the upper one of each, and the lower."""
    # With two columns more nothing touches across the sides of the picture.
    begin = row.astype(np.int64) * (columns + 2) + first
    end = begin + (last - first)
    left, right = both(
        lambda: np.searchsorted(end, begin - (columns + 3)),
        lambda: np.searchsorted(begin, end - (columns + 1), side="right"),
        SEARCH * len(row),
    )
    often = right - left
    below = np.repeat(np.arange(len(row)), often)
    above = np.arange(len(below)) - np.repeat(often.cumsum() - often - left, often)
    return above, below


def _roots(count: int, one: IndexArray, other: IndexArray) -> IndexArray:
    """The first of those that each of so many hangs together with, from pairs that touch."""
    root = np.arange(count)
    while True:
        apart = np.flatnonzero(root[one] != root[other])
        if not len(apart):
            return root
        one, other = one[apart], other[apart]
        pair = root[one], root[other]
        np.minimum.at(root, np.maximum(*pair), np.minimum(*pair))
        while not np.array_equal(further := root[root], root):
            root = further


def pixels_of(mask: BoolImage) -> IndexArray:
    """Where a mask is True, as indices of the flattened picture."""
    flat = mask.ravel()

    def found(part: slice) -> IndexArray:
        at = np.flatnonzero(flat[part])
        at += part.start
        return at

    return np.concatenate(by_halves(found, flat.size))


def pixels_of_each(label: IndexArray, which: BoolImage) -> list[IndexArray]:
    """Where in a list of pixels those of each of some objects are.

    Parameters
    ----------
    label : of which object each pixel is
    which : (n,) bool, the objects to look for
    """
    count = np.count_nonzero(which)
    few = np.flatnonzero(which.take(label))
    number = (which.cumsum() - 1).take(label.take(few))
    few = few[in_file(number, count)]
    return np.split(few, np.bincount(number, minlength=count).cumsum())[:count]


def in_file(number: IndexArray, count: int) -> IndexArray:
    """The order that puts numbers up to a count in file, and leaves alone what is of the same.

    Short numbers are sorted by their digits, in a tenth of the time.
    """
    return np.argsort(number.astype(np.uint16) if count < 2**16 else number, kind="stable")


def rows_and_columns(at: IndexArray, columns: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Row and column of pixels of the flattened picture of so many columns.

    As short numbers: those divide in a third of the time.
    """
    short = at.astype(np.int32)
    row = short // columns
    return row, short - row * columns


def places_at_half(at: IndexArray, columns: int) -> NDArray[np.int32]:
    """Where pixels of the flattened picture lie in one of half the size, flattened as well."""
    row, column = rows_and_columns(at, columns)
    row >>= 1
    column >>= 1
    row *= (columns + 1) // 2
    row += column
    return row


def add_up(sums: NDArray[np.number], label: IndexArray, values: NDArray[np.number] | int) -> None:
    """Add values to the sums of the objects they are of, in place.

    ``np.bincount`` looks through its list once more before it adds, and begins anew for each
    piece of one; ``np.add.at`` is quick only where types are alike.
    """
    np.add.at(sums, label, values if np.isscalar(values) else values.astype(sums.dtype, copy=False))
