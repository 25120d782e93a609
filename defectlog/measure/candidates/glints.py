"""Glints at the rim of dark voids: light mirrored by the wall of a pore is a part of the pore."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.outline import GLINT_SHARE

# A glint is brighter than the surface goes by itself, so many times, and than so much, in log
# units of light; it is no speck.
TIMES, LEAST, LEAST_PX = 2.0, 0.2, 6
# It begins no further from the dark of its void than that, and the void fills so much more of its
# convex hull with it: the bright seam that sharpening draws about a void lies beside or around it.
NEAR_PX, ROUNDER = 3, 0.01


def may_have_rim_glints(mask: BoolImage, surface: Surface, reach: float) -> bool:
    """Whether anything as bright as a glint lies beside dark objects; see ``fill_rim_glints``."""
    # Of nine pixels in a square one is enough to see that.
    return bool(_near(mask, surface, reach, every=3)[1].any())


def fill_rim_glints(mask: BoolImage, surface: Surface, reach: float) -> IndexArray:
    """Fill the glints that bite into objects from their rims, in place.

    Parameters
    ----------
    mask : (M, N) bool, dark objects, filled in place
    surface : they lie on
    reach : how far the surface goes to the bright side by itself, in log units of light

    Returns
    -------
    Where that was, as indices of the flattened mask.
    """
    square = np.ones((2 * NEAR_PX + 1,) * 2, np.uint8)
    shining, beside = _near(mask, surface, reach, every=1)
    shining &= ~mask
    _, glints, extents, _ = cv2.connectedComponentsWithStats(shining.view(np.uint8))
    _, objects, reaches, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8))
    filled = [np.zeros(0, dtype=np.int64)]
    for glint in np.unique(glints[beside & shining]).tolist():
        window = _window(extents[glint], NEAR_PX)
        about = objects[window]
        own = int(np.bincount(about[about > 0]).argmax())
        areas = extents[glint, cv2.CC_STAT_AREA], reaches[own, cv2.CC_STAT_AREA]
        if areas[0] < LEAST_PX or areas[0] > GLINT_SHARE * areas[1]:
            continue
        window = _window(_both(extents[glint], reaches[own]), 2 * NEAR_PX)
        row, column = _bitten(objects[window] == own, glints[window] == glint, square)
        fresh = ~mask[window][row, column] & surface.inspected[window][row, column]
        at = (row[fresh] + window[0].start) * mask.shape[1] + column[fresh] + window[1].start
        mask.ravel()[at] = True
        filled.append(at)
    return np.concatenate(filled)


def _near(
    mask: BoolImage, surface: Surface, reach: float, *, every: int
) -> tuple[BoolImage, BoolImage]:
    """What shines, of so many pixels one along a side, and what of it is beside objects."""
    some = (slice(None, None, every),) * 2
    level = ONE * math.exp(max(TIMES * reach, LEAST))
    shining = surface.smooth[some] > level
    if not surface.is_whole:
        shining &= surface.inspected[some]
    square = np.ones((2 * math.ceil(NEAR_PX / every) + 1,) * 2, np.uint8)
    near = cv2.dilate(np.ascontiguousarray(mask[some]).view(np.uint8), square)
    return shining, shining & near.view(np.bool_)


def _bitten(
    own: BoolImage, glint: BoolImage, brush: NDArray[np.uint8]
) -> tuple[IndexArray, IndexArray]:
    """The rows and columns of an object with a glint in it; of none if it lies beside."""
    whole = cv2.morphologyEx((own | glint).view(np.uint8), cv2.MORPH_CLOSE, brush) > 0
    row, column = np.nonzero(own)
    middle = int(row.mean()), int(column.mean())
    if _hull(glint)[middle] or _filled(whole) < _filled(own) + ROUNDER:
        return (np.zeros(0, dtype=np.int64),) * 2
    row, column = np.nonzero(whole)
    return row, column


def _filled(one: BoolImage) -> float:
    """The share of its convex hull that an object fills."""
    return np.count_nonzero(one) / np.count_nonzero(_hull(one))


def _hull(one: BoolImage) -> NDArray[np.uint8]:
    lines, _ = cv2.findContours(one.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = np.zeros(one.shape, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(np.concatenate(lines)), 1)
    return hull


def _both(one: NDArray[np.int32], other: NDArray[np.int32]) -> tuple[int, int, int, int]:
    """The box about two, each of left, top, width and height."""
    left, top = min(one[0], other[0]), min(one[1], other[1])
    right, below = (max(one[k] + one[k + 2], other[k] + other[k + 2]) for k in (0, 1))
    return left, top, right - left, below - top


def _window(box: Sequence[int] | NDArray[np.int32], margin: int) -> tuple[slice, slice]:
    left, top, width, height = (int(side) for side in box[:4])
    return (
        slice(max(0, top - margin), top + height + margin),
        slice(max(0, left - margin), left + width + margin),
    )
