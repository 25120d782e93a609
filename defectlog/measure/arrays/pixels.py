"""The pixels of a mask as flat lists, and the objects they make."""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import both, by_halves
from defectlog.measure.arrays.light import BoolImage

IndexArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
LabelImage = NDArray[np.int32]

BAND_PX = 12_500_000
_NO_PAIRS = np.empty((0, 2), np.int64)


@dataclass(frozen=True, slots=True)
class Numbered:
    """The connected objects of a mask: ``labels`` is 0 for none, else which, from 1."""

    count: int
    labels: LabelImage


def numbered(objects: BoolImage) -> Numbered:
    """Number the objects of a mask; pixels that touch at a corner belong together."""
    count, labels = cv2.connectedComponents(objects.view(np.uint8), ltype=cv2.CV_32S)
    return Numbered(count - 1, labels)


@dataclass(frozen=True, slots=True)
class Runs:
    """Pixels side by side in a row, as one: there are a tenth as many of these.

    ``start`` is where in a list of pixels each begins, ``length`` how many it has.
    """

    start: IndexArray
    length: IndexArray


def runs_of(at: IndexArray, columns: int) -> Runs:
    """The runs in a list of pixels, in the order of a picture of so many columns."""
    begins = np.ones(len(at), dtype=bool)
    np.not_equal(at[1:], at[:-1] + 1, out=begins[1:])
    # The last pixel of a row is not beside the first of the next.
    rows = np.searchsorted(at, np.arange(0, at[-1] + 1 if len(at) else 0, columns))
    begins[rows] = True
    start = np.flatnonzero(begins)
    return Runs(start, np.diff(start, append=len(at)))


@dataclass(frozen=True, slots=True)
class Listed:
    """The pixels of objects ``at``, the object of each, from 1, and those along their edges.

    They are in the order of the picture, with their ``runs``. ``edge`` are the pixels that touch
    what is no object, ``edge_label`` the object of each.
    """

    count: int
    at: IndexArray
    label: NDArray[np.int32]
    runs: Runs
    edge: IndexArray
    edge_label: NDArray[np.int32]


def listed(objects: BoolImage, known: Numbered | None = None) -> Listed:
    """List the pixels of the objects of a mask; ``known`` are its numbers, if it has some."""
    if known is None:
        return _joined(_by_bands(objects))
    return _joined([_band(objects, slice(0, len(objects)), known)])


@dataclass(frozen=True, slots=True)
class _Band:
    """Some rows of a mask as a list: its objects are numbered by themselves, from 1.

    ``each`` is the object of each run; ``rim`` are places in ``at``; ``top`` and ``bottom`` are
    the numbers along its first and last row.
    """

    count: int
    at: IndexArray
    runs: Runs
    each: NDArray[np.int32]
    rim: IndexArray
    top: NDArray[np.int32]
    bottom: NDArray[np.int32]


def _by_bands(objects: BoolImage) -> list[_Band]:
    """A mask in bands of rows: the numbers of all of a large one take four times its memory."""
    high = max(1, BAND_PX // objects.shape[1])
    return [_band(objects, slice(top, top + high)) for top in range(0, len(objects), high)]


def _band(objects: BoolImage, band: slice, known: Numbered | None = None) -> _Band:
    rows = objects[band]

    def in_order() -> tuple[IndexArray, Runs, IndexArray]:
        at = pixels_of(rows)
        above = min(band.start, 1)
        inner = inner_of(objects[band.start - above : band.stop + 1])[above:]
        return at, runs_of(at, rows.shape[1]), edge_of(inner, at)

    known, (at, runs, rim) = both(lambda: known or numbered(rows), in_order)
    each = known.labels.ravel().take(at.take(runs.start))
    at += band.start * rows.shape[1]
    top, bottom = known.labels[0].copy(), known.labels[-1].copy()
    return _Band(known.count, at, runs, each, rim, top, bottom)


def _joined(bands: list[_Band]) -> Listed:
    """Bands as one list, with what touches across the lines between them as one object."""
    before = np.cumsum([0, *(band.count for band in bands)])
    listed_before = np.cumsum([0, *(len(band.at) for band in bands)])
    touching = [
        _touching(upper, lower) + before[k : k + 2]
        for k, (upper, lower) in enumerate(pairwise(bands))
    ]
    count, of_all = _one_for_each(int(before[-1]), np.concatenate([_NO_PAIRS, *touching]))
    label = _end_to_end(
        [
            np.repeat(of_all.take(band.each + first), band.runs.length)
            for band, first in zip(bands, before[:-1], strict=True)
        ]
    )
    at = _end_to_end([band.at for band in bands])
    length = _end_to_end([band.runs.length for band in bands])
    start, rim = (
        _end_to_end([part + first for part, first in zip(parts, listed_before[:-1], strict=True)])
        for parts in ([band.runs.start for band in bands], [band.rim for band in bands])
    )
    return Listed(count, at, label, Runs(start, length), at.take(rim), label.take(rim))


def _end_to_end(parts: list[NDArray[np.integer]]) -> NDArray[np.integer]:
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _touching(upper: _Band, lower: _Band) -> IndexArray:
    """Pairs of objects, (n, 2), that touch across the line between two bands."""
    above, below = upper.bottom, lower.top
    pairs = [
        np.column_stack([over[both], under[both]])
        for over, under in ((above, below), (above[1:], below[:-1]), (above[:-1], below[1:]))
        for both in (np.flatnonzero((over > 0) & (under > 0)),)
    ]
    return np.concatenate(pairs).astype(np.int64)


def _one_for_each(count: int, pairs: IndexArray) -> tuple[int, NDArray[np.int32]]:
    """Numbers in which both objects of a pair have the same one, by the old ones, from 1."""
    first = np.arange(count + 1)

    def root(one: int) -> int:
        while first[one] != one:
            one = first[one]
        return one

    for pair in pairs.tolist():
        low, high = sorted(map(root, pair))
        first[high] = low
    for one in sorted(set(pairs.ravel().tolist())):
        first[one] = root(one)
    renumbered = np.cumsum(first == np.arange(count + 1), dtype=np.int32) - 1
    return int(renumbered[-1]), renumbered[first]


def pixels_of(mask: BoolImage) -> IndexArray:
    """Where a mask is True, as indices of the flattened picture."""
    flat = mask.ravel()

    def found(part: slice) -> IndexArray:
        at = np.flatnonzero(flat[part])
        at += part.start
        return at

    return np.concatenate(by_halves(found, flat.size))


def rows_and_columns(at: IndexArray, columns: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Row and column of pixels of the flattened picture of so many columns.

    As short numbers: those divide in a third of the time.
    """
    short = at.astype(np.int32)
    row = short // columns
    return row, short - row * columns


def add_up(sums: NDArray[np.number], label: IndexArray, values: NDArray[np.number] | int) -> None:
    """Add values to the sums of the objects they are of, in place.

    ``np.bincount`` looks through its list once more before it adds, and begins anew for each
    piece of one; ``np.add.at`` is quick only where types are alike.
    """
    np.add.at(sums, label, values if np.isscalar(values) else values.astype(sums.dtype, copy=False))


def count_and_add(
    sums: NDArray[np.complex128], label: IndexArray, values: NDArray[np.floating]
) -> None:
    """Count pixels of the objects they are of, and add up their values, in place.

    As the two parts of complex numbers, counts first: together they take hardly longer than
    one of them.
    """
    one_and_value = np.empty(len(values), np.complex128)
    one_and_value.real = 1.0
    one_and_value.imag = values
    np.add.at(sums, label, one_and_value)


def inner_of(mask: BoolImage) -> BoolImage:
    """The pixels of a mask that have none beside them, at a side or corner, not of it."""
    inner = cv2.erode(mask.view(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    return inner.view(np.bool_)


def edge_of(inner: BoolImage, at: IndexArray) -> IndexArray:
    """Which of a mask's pixels ``at`` lie along its edges: places in that list.

    Parameters
    ----------
    inner : (M, N) bool, from ``inner_of``
    at : pixels of the flattened mask
    """
    flat = inner.ravel()

    def found(part: slice) -> IndexArray:
        which = np.flatnonzero(~flat.take(at[part]))
        which += part.start
        return which

    return np.concatenate(by_halves(found, len(at)))
