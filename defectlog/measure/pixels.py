"""The pixels of a mask as flat lists, and the objects they make."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.halves import by_halves
from defectlog.measure.light import BoolImage

IndexArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
LabelImage = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Numbered:
    """The connected objects of a mask: ``labels`` is 0 for none, else which, from 1.

    ``at`` are their pixels as indices of the flattened picture, in its order.
    """

    count: int
    labels: LabelImage
    at: IndexArray


def numbered(objects: BoolImage) -> Numbered:
    """Number the objects of a mask; pixels that touch at a corner belong together."""
    count, labels = cv2.connectedComponents(objects.view(np.uint8), ltype=cv2.CV_32S)
    return Numbered(count - 1, labels, pixels_of(objects))


@dataclass(frozen=True, slots=True)
class Listed:
    """The pixels of objects ``at``, the object of each, from 1, and those along their edges.

    ``edge`` are the pixels that touch what is no object, ``edge_label`` the object of each.
    """

    count: int
    labels: LabelImage
    at: IndexArray
    label: NDArray[np.int32]
    edge: IndexArray
    edge_label: NDArray[np.int32]


def listed(objects: BoolImage, known: Numbered | None = None) -> Listed:
    """List the pixels of the objects of a mask; ``known`` are its numbers, if it has some."""
    known = numbered(objects) if known is None else known
    flat, at = known.labels.ravel(), known.at
    label = np.concatenate(by_halves(lambda part: flat.take(at[part]), len(at)))
    rim = edge_of(objects, at)
    return Listed(known.count, known.labels, at, label, at.take(rim), label.take(rim))


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


def edge_of(mask: BoolImage, at: IndexArray) -> IndexArray:
    """Which of a mask's pixels ``at`` have one beside them, at a side or corner, not of it.

    Returns
    -------
    Places in the list ``at``.
    """
    inner = cv2.erode(mask.view(np.uint8), np.ones((3, 3), np.uint8), borderValue=0).ravel()

    def found(part: slice) -> IndexArray:
        which = np.flatnonzero(inner.take(at[part]) == 0)
        which += part.start
        return which

    return np.concatenate(by_halves(found, len(at)))
