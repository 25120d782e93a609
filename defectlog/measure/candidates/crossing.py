"""Hairs and scratches that run from void to void: they are cut off what they cross."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import (
    FloatArray,
    IndexArray,
    listed,
    pixels_of_each,
    rows_and_columns,
)
from defectlog.measure.outlines.judging import THIN_PX, half_width, is_thin
from defectlog.measure.outlines.outline import Outlined, length_of

# Between voids a hair lies bare for so long at least, and is so many times longer than wide: what
# is shorter may be the fringe of a patch.
BARE_MM, LONGER, LEAST_PX = 3.0, 20.0, 2.0
WIDER = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))  # than a stroke is
MARGIN = 3  # pixels about an object, beyond which there is nothing of it


def cut_strokes(
    mask: BoolImage, within: Outlined, area: FloatArray, perimeter: FloatArray, px_per_mm: float
) -> None:
    """Cut the strokes that run through wider objects off these, in place.

    They are left as objects of their own, to be told as all thin ones are.

    Parameters
    ----------
    mask : (M, N) bool, the objects
    within : the pixels of the objects
    area, perimeter : (n,) of the objects
    px_per_mm : of the mask, roughly
    """
    bare_px = max(BARE_MM * px_per_mm, LONGER * LEAST_PX)
    # Both sides of such a stroke are outline, beside that of what it crosses.
    crossed = perimeter > 2 * bare_px + 2 * np.sqrt(np.pi * area)
    if not crossed.any():
        return
    flat, columns = mask.ravel(), mask.shape[1]
    some = np.flatnonzero(crossed.take(within.label))
    some = some[flat.take(within.at.take(some))]
    at, each = within.at.take(some), pixels_of_each(within.label.take(some), crossed)
    flat[np.concatenate([_cuts(at.take(own), columns, bare_px) for own in each])] = False


def _cuts(at: IndexArray, columns: int, bare_px: float) -> IndexArray:
    """The pixels by which strokes of an object touch what is wider of it."""
    if len(at) < LEAST_PX * bare_px:
        return at[:0]
    row, column = rows_and_columns(at, columns)
    row, column = row - row.min() + MARGIN, column - column.min() + MARGIN
    drawn = np.zeros((int(row.max()) + MARGIN + 1, int(column.max()) + MARGIN + 1), np.uint8)
    drawn[row, column] = 1
    narrow = (drawn & ~cv2.morphologyEx(drawn, cv2.MORPH_OPEN, WIDER)).view(np.bool_)
    if np.count_nonzero(narrow) < LEAST_PX * bare_px:
        return at[:0]
    pieces = listed(narrow)
    area, around = pieces.area, length_of(pieces.sides)
    width = np.maximum(2 * half_width(area, around), LEAST_PX)
    bare = (width < THIN_PX) & (area > width * np.maximum(bare_px, LONGER * width))
    if not bare.any():
        return at[:0]
    label = pieces.label - 1
    stroke = is_thin(pieces.at, label, narrow.shape, area, around)
    strokes = np.zeros_like(narrow)
    strokes.ravel()[pieces.at[stroke[label]]] = True
    left = drawn.view(np.bool_) & ~strokes
    if not left.any():
        return at[:0]
    rest = listed(left)
    label = rest.label - 1
    # Where a hair crosses itself it is up to twice as wide as it is, and no void.
    far = cv2.distanceTransform(left.view(np.uint8), cv2.DIST_L2, 3)
    widest = np.zeros(rest.count, np.float32)
    np.maximum.at(widest, label, far.ravel().take(rest.at))
    crossed = np.zeros_like(narrow)
    crossed.ravel()[rest.at[(widest > np.median(width[bare]))[label]]] = True
    strokes &= cv2.dilate(crossed.view(np.uint8), np.ones((3, 3), np.uint8)).view(np.bool_)
    return at[strokes[row, column]]
