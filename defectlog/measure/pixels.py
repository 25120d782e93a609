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
