"""Hairs and scratches that run from void to void: the stroke is told from what it crosses."""

import cv2
import numpy as np

from defectlog.measure.judging import THIN, THIN_PX, Turned, half_width, is_thin, turned_down
from defectlog.measure.light import BoolImage
from defectlog.measure.outline import Outlined, perimeters
from defectlog.measure.pixels import FloatArray, IndexArray, rows_and_columns
from defectlog.measure.shapes import shapes_of

# Between voids a hair lies bare for so long at least, and is so many times longer than wide: what
# is shorter may be the fringe of a patch.
BARE_MM, LONGER, LEAST_PX = 3.0, 20.0, 2.0
WIDER = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))  # than a stroke is


def take_strokes(
    mask: BoolImage,
    struck: BoolImage,
    within: Outlined,
    area: FloatArray,
    perimeter: FloatArray,
    px_per_mm: float,
) -> Turned | None:
    """Take the strokes that run through wider objects from a mask, in place.

    Parameters
    ----------
    mask, struck : (M, N) bool, the objects, and what has been turned down of them
    within : the pixels of the objects
    area, perimeter : (n,) of the objects
    px_per_mm : of the mask, roughly

    Returns
    -------
    What was taken; the voids that a stroke crosses are left, each by itself.
    """
    bare_px = max(BARE_MM * px_per_mm, LONGER * LEAST_PX)
    # Both sides of such a stroke are outline, beside that of what it crosses.
    crossed = perimeter > 2 * bare_px + 2 * np.sqrt(np.pi * area)
    if not crossed.any():
        return None
    flat, columns = mask.ravel(), mask.shape[1]
    some = np.flatnonzero(crossed.take(within.label))
    at, label = within.at[some], within.label[some]
    order = np.argsort(label, kind="stable")
    each = np.split(at[order], np.flatnonzero(np.diff(label[order])) + 1)
    strokes = [_strokes_of(at[flat.take(at)], columns, bare_px) for at in each]
    at = np.concatenate(strokes)
    if not len(at):
        return None
    flat[at] = False
    struck.ravel()[at] = True
    whose = np.repeat(np.arange(len(strokes)), [len(one) for one in strokes])
    which = np.bincount(whose, minlength=len(strokes)) > 0
    return turned_down(at, whose, which, columns, THIN)


def _strokes_of(at: IndexArray, columns: int, bare_px: float) -> IndexArray:
    """The pixels of an object that are a stroke which lies bare for so long at least."""
    if len(at) < LEAST_PX * bare_px:
        return at[:0]
    row, column = rows_and_columns(at, columns)
    top, left = int(row.min()), int(column.min())
    # Beyond its own window there is nothing of it.
    drawn = np.zeros((int(row.max()) - top + 7, int(column.max()) - left + 7), np.uint8)
    drawn[row - top + 3, column - left + 3] = 1
    narrow = (drawn & ~cv2.morphologyEx(drawn, cv2.MORPH_OPEN, WIDER)).view(np.bool_)
    if np.count_nonzero(narrow) < LEAST_PX * bare_px:
        return at[:0]
    pieces = shapes_of(narrow)
    around = perimeters(narrow, pieces.at, pieces.label, len(pieces.area))
    width = np.maximum(2 * half_width(pieces.area, around), LEAST_PX)
    bare = (width < THIN_PX) & (pieces.area > width * np.maximum(bare_px, LONGER * width))
    if not bare.any():
        return at[:0]
    stroke = is_thin(pieces.at, pieces.label, narrow.shape, pieces.area, around)
    narrow.ravel()[pieces.at[~stroke[pieces.label]]] = False
    return at[narrow[row - top + 3, column - left + 3]]
