"""Creases of the bag: long lines that are light on one side and dark on the other."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import BoolImage, FloatImage, as_contrast, to_cells
from defectlog.measure.pixels import FloatArray, IndexArray
from defectlog.measure.surface import Surface

# Cells the surface is looked at in, so that a large picture takes no longer, and the blur that
# leaves out what is smaller than a crease.
CELL_MM, MOST_CELLS = 0.4, 150_000
BLUR_MM = 0.7
# Each side of a crease stands out by so much in log light and so many deviations of the rest,
# is so long, and longer than wide.
LEAST_STEP, DEVIATIONS = 0.035, 3.0
LEAST_MM, TIMES_WIDTH = 10.0, 4.0
# Beside nearly all of it lies the other side: so near, or so many times its width if that is more,
# nearly half as strong, of much the same area, and off to one hand. What is about a patch lies
# all round it.
NEAR_MM, NEAR_WIDTHS, FURTHEST_MM, WEAKER = 4.0, 1.5, 8.0, 0.4
ALONGSIDE, AS_LARGE, TO_ONE_HAND = 0.75, 0.4, 0.7
# Looked for where an object has so long an outline, and less of the area of a circle as long: of
# a band that is ``TIMES_WIDTH`` times as long as wide.
LONG_ROUND_MM, SLENDER = 8.0, math.pi * TIMES_WIDTH / (TIMES_WIDTH + 1) ** 2
# The share of an object that lies on a crease if it is of it. A dark one is besides such a share
# of the whole crease, or stands out no more than so many times as far as the darkest of it, which
# is such a share.
OF_IT, PART, AS_STRONG, DARKEST = 0.6, 0.1, 1.2, 0.1


def on_creases(
    surface: Surface,
    at: IndexArray,
    label: IndexArray,
    area: FloatArray,
    perimeter_px: FloatArray,
    height: FloatArray,
    *,
    sign: float,
) -> BoolImage:
    """Which objects are a side of a crease, or a part of it.

    Parameters
    ----------
    surface : evenly lit
    at, label : pixels of the objects in the flattened picture, and the object each is of
    area, perimeter_px : (n,) of each
    height : (n,) contrast of each to the surface about it, as a share of light
    sign : 1.0 for dark objects, -1.0 for bright ones

    Returns
    -------
    (n,) bool

    Notes
    -----
    A fold that is lit from the side turns one flank to the light and one from it. A void has
    an edge all round, and the surface beyond it is as light as anywhere.
    """
    none = np.zeros(len(perimeter_px), dtype=bool)
    long = perimeter_px > LONG_ROUND_MM * surface.px_per_mm
    if not (long & (4 * np.pi * area < SLENDER * perimeter_px**2)).any():
        return none
    rows, columns = surface.smooth.shape
    cell = max(1, round(CELL_MM * surface.px_per_mm), math.isqrt(rows * columns // MOST_CELLS))
    flanks, steps = _flanks(surface, cell, sign)
    if not len(steps):
        return none
    row, column = np.divmod(at, columns)
    down, across = (
        np.minimum(place // cell, n - 1)
        for place, n in zip((row, column), flanks.shape, strict=True)
    )
    flank = flanks[down, across]
    lies = np.bincount(label, flank > 0, minlength=len(none)) > OF_IT * area
    if sign < 0:
        return lies  # a crease glints along its crest: what is bright on it is its own
    whose = np.zeros(len(none), dtype=np.int64)
    np.maximum.at(whose, label, flank)
    depth = as_contrast(height, dark=True)
    whole = np.bincount(flanks.ravel())[whose] * cell**2
    return lies & ((area > PART * whole) | (depth < AS_STRONG * np.append(0, steps)[whose]))


def _flanks(surface: Surface, cell: int, sign: float) -> tuple[NDArray[np.int32], list[float]]:
    """The dark sides of creases, or the bright ones, numbered from 1 in cells of so many pixels.

    With them how far each stands out where it does most, in log units of light.
    """
    mm = cell / surface.px_per_mm
    rows, columns = (n // cell * cell for n in surface.smooth.shape)
    light = to_cells(surface.smooth[:rows, :columns], cell).astype(np.float32)
    light = np.log(np.maximum(light, np.float32(1)))
    sharp = light * np.float32(-sign)
    sharp -= np.float32(np.median(sharp))
    towards = cv2.GaussianBlur(sharp, (0, 0), BLUR_MM / mm)
    towards -= np.float32(np.median(towards))
    step = max(LEAST_STEP, DEVIATIONS * 1.4826 * float(np.median(np.abs(towards))))
    _, labels, stats, _ = cv2.connectedComponentsWithStats((towards > step).view(np.uint8))
    flanks, steps = np.zeros(towards.shape, np.int32), []
    margin = math.ceil(FURTHEST_MM / mm)
    long = np.hypot(stats[1:, 2], stats[1:, 3]) * mm > LEAST_MM
    for k in 1 + np.flatnonzero(long):
        left, top, wide, high = stats[k, :4]
        window = (
            slice(max(0, top - margin), top + high + margin),
            slice(max(0, left - margin), left + wide + margin),
        )
        own = labels[window] == k
        if _is_flank(own, towards[window], mm):
            # Of a narrow flank blur leaves half.
            steps.append(float(np.quantile(sharp[window][own], 1 - DARKEST)))
            flanks[window][own] = len(steps)
    # Objects are outlined halfway up, a little wider than what stands out most.
    return cv2.dilate(flanks.astype(np.float32), np.ones((3, 3), np.uint8)).astype(np.int32), steps


def _is_flank(own: BoolImage, towards: FloatImage, mm: float) -> bool:
    """Whether an object of cells is long and has its opposite beside it, to one hand."""
    places = np.argwhere(own)
    length = (max(cv2.minAreaRect(places.astype(np.float32))[1]) + 1) * mm
    # Of a band, pixels lie a quarter of its width from its edge on average, if it crosses another
    # as well.
    inner = cv2.distanceTransform(np.pad(own, 1).view(np.uint8), cv2.DIST_L2, 3)
    width = 4 * (float(inner[1:-1, 1:-1][own].mean()) - 0.5) * mm
    if length < LEAST_MM or length < TIMES_WIDTH * width:
        return False
    reach = math.ceil(min(max(NEAR_MM, NEAR_WIDTHS * width), FURTHEST_MM) / mm)
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    near = cv2.dilate(own.view(np.uint8), brush).view(np.bool_)
    other = near & (towards < -WEAKER * float(towards[own].mean()))
    if np.count_nonzero(other) < AS_LARGE * len(places):
        return False
    beside = cv2.dilate(other.view(np.uint8), brush).view(np.bool_)
    if np.count_nonzero(own & beside) < ALONGSIDE * len(places):
        return False
    apart = np.argwhere(other).mean(axis=0) - places.mean(axis=0)
    return float(np.hypot(*apart)) * mm > TO_ONE_HAND * width
