"""Masks of a whole picture, worked out by rows on both threads."""

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_pieces
from defectlog.measure.arrays.light import BoolImage

ROWS = 256  # that are worked out at a time


def but_not(mask: BoolImage, other: BoolImage) -> BoolImage:
    """Where a mask is True and the other is not."""
    left = np.empty_like(mask)

    def tell(parts: list[slice]) -> None:
        for rows in parts:
            np.greater(mask[rows], other[rows], out=left[rows])

    by_pieces(tell, len(mask), piece=ROWS)
    return left


def grown(mask: BoolImage, reach: int) -> BoolImage:
    """A mask, (M, N) bool, and what is so many pixels from it at most, across, down or both."""
    wider = np.empty_like(mask)

    def grow(parts: list[slice]) -> None:
        for rows in parts:
            wider[rows] = rows_of_grown(mask, rows, reach)

    by_pieces(grow, len(mask), piece=ROWS)
    return wider


def rows_of_grown(mask: BoolImage, rows: slice, reach: int) -> BoolImage:
    """Some rows of what ``grown`` makes of a mask."""
    first = max(rows.start - reach, 0)
    square = np.ones((2 * reach + 1,) * 2, np.uint8)
    near = cv2.dilate(mask[first : rows.stop + reach].view(np.uint8), square)
    return near[rows.start - first : rows.stop - first].view(np.bool_)
