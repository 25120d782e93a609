"""Hairs and scratches that run from void to void: the stroke is told from what it crosses."""

import cv2
import numpy as np

from defectlog.measure.judging import THIN, THIN_PX, Turned, half_width, is_thin, turned_down
from defectlog.measure.light import BoolImage
from defectlog.measure.outline import Outlined, perimeters
from defectlog.measure.pixels import FloatArray
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
    drawn = np.zeros_like(mask)
    drawn.ravel()[within.at[crossed[within.label]]] = True
    drawn &= mask
    drawn &= ~cv2.morphologyEx(drawn.view(np.uint8), cv2.MORPH_OPEN, WIDER).view(np.bool_)
    pieces = shapes_of(drawn)
    around = perimeters(drawn, pieces.at, pieces.label, len(pieces.area))
    width = np.maximum(2 * half_width(pieces.area, around), LEAST_PX)
    bare = (width < THIN_PX) & (pieces.area > width * np.maximum(bare_px, LONGER * width))
    if not bare.any():
        return None
    stroke = is_thin(pieces.at, pieces.label, mask.shape, pieces.area, around)
    at = pieces.at[stroke[pieces.label]]
    mask.ravel()[at] = False
    struck.ravel()[at] = True
    return turned_down(pieces.at, pieces.label, stroke, mask.shape[1], THIN)
