"""Dashes of a yarn that voids have joined: which part is yarn, and which juts out of it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray, rows_and_columns
from defectlog.measure.outlines.shapes import Shapes

# What the sides of a dash waver by, as a share of them; what is narrower than so much of its
# breadth does not jut out of it, and what is so near to it is its blurred edge.
WAVERS, NARROW, EDGE_PX = 0.15, 0.15, 2
OF_MOMENTS = np.sqrt(12) / 4  # the side of a box of the moments of an ellipse that is 1 long


def parted(
    shapes: Shapes,
    some: IndexArray,
    turn: FloatArray,
    *,
    size: tuple[float, float],
    columns: int,
) -> tuple[BoolImage, IndexArray]:
    """Which of some objects hold a dash, and the pixels that jut out of those.

    Parameters
    ----------
    shapes : of the objects
    some : of them
    turn : which way the yarn runs at each, in radians
    size : length and breadth of dashes, by moments
    columns : of the picture

    Returns
    -------
    (n,) bool, and pixels of the flattened picture

    Notes
    -----
    An object holds a dash if a box of about its size fits in, or two where yarns cross: yarn is
    where they do.
    """
    long, wide = (max(3, round((1 - WAVERS) * OF_MOMENTS * side)) for side in size)
    box = np.ones((wide, long), np.uint8)
    across = max(3, round(NARROW * size[1]))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    edge = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * EDGE_PX + 1,) * 2)
    holds = np.zeros(len(some), dtype=bool)
    jutting = [np.zeros(0, np.int64)]
    for k, at in enumerate(_pixels_of(shapes, some) if len(some) else ()):
        seen, places = _along_the_yarn(at, columns, turn[k])
        yarn = _opened(seen, box) | _opened(seen, box.T)
        holds[k] = yarn.any()
        if holds[k]:
            beyond = seen & ~cv2.dilate(yarn, edge)
            core = _opened(beyond, disc)
            jutting.append(at[(beyond & cv2.dilate(core, edge))[places] > 0])
    return holds, np.concatenate(jutting)


def _opened(mask: NDArray[np.uint8], by: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Where a shape fits into a mask; beyond its sides it does not."""
    return cv2.morphologyEx(mask, cv2.MORPH_OPEN, by, borderType=cv2.BORDER_CONSTANT, borderValue=0)


def _pixels_of(shapes: Shapes, some: IndexArray) -> list[IndexArray]:
    order = np.full(len(shapes.x), -1)
    order[some] = np.arange(len(some))
    own = order[shapes.label]
    few = np.flatnonzero(own >= 0)
    own, at = own[few], shapes.at[few]
    # Short numbers are sorted by their digits, several times as fast.
    by_object = np.argsort(own.astype(np.min_scalar_type(len(some))), kind="stable")
    return np.split(at[by_object], np.searchsorted(own[by_object], np.arange(1, len(some))))


def _along_the_yarn(
    at: IndexArray, columns: int, turn: float
) -> tuple[NDArray[np.uint8], tuple[IndexArray, IndexArray]]:
    """An object drawn with the yarn along its rows, and where in there its pixels are."""
    row, column = rows_and_columns(at, columns)
    along = column * np.cos(turn) - row * np.sin(turn)
    aside = column * np.sin(turn) + row * np.cos(turn)
    places = tuple(np.rint(axis - axis.min()).astype(np.int64) + 1 for axis in (aside, along))
    seen = np.zeros(tuple(int(axis.max()) + 2 for axis in places), np.uint8)
    seen[places] = 1
    return cv2.morphologyEx(seen, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)), places
