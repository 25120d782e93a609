"""The region: which part of a picture is surface to be inspected."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.errors import DefectlogError
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.lengths.scale import Point, Polygon

Region = Sequence[Point] | tuple[float, float, float, float] | NDArray[np.bool_]

# How far the edge of a card spoils the surface beside it: blur, and its own thickness.
CARD_HALO_PX = 4.0
LEAST_BESIDE = 0.05  # of a region, that lies beside the card


class RegionError(DefectlogError):
    """The region is no area of the picture."""


def region_mask(region: Region | None, shape: tuple[int, int]) -> BoolImage:
    """Turn a region into a mask.

    Parameters
    ----------
    region : None for the whole picture, (x, y, width, height), a polygon of three or more
        (x, y), or an (M, N) bool mask; pixels of the upright picture
    shape : (M, N) of the picture

    Raises
    ------
    RegionError
        If it has no area or lies outside the picture.
    """
    if region is None:
        return np.ones(shape, dtype=bool)
    if isinstance(region, np.ndarray) and region.dtype == np.bool_:
        if region.shape != shape:
            raise ValueError(f"region {region.shape} and picture {shape} differ in shape")
        mask = region.copy()
    else:
        mask = _drawn(np.asarray(region, dtype=np.float64), shape)
    if not mask.any():
        raise RegionError(
            "The region holds no part of the picture", "draw it on the surface you want inspected"
        )
    return mask


def without_cards(mask: BoolImage, outlines: Sequence[Polygon]) -> BoolImage:
    """Take what lies under a scale card, and its shadow's width round it, out of a mask."""
    if not outlines:
        return mask
    cover = np.zeros(mask.shape, dtype=np.uint8)
    for outline in outlines:
        corners = np.round(np.array(outline) * 16).astype(np.int32)
        cv2.fillPoly(cover, [corners], 1, shift=4)
        thick = 2 * round(CARD_HALO_PX) + 1
        cv2.polylines(cover, [corners], True, 1, thickness=thick, shift=4)
    return mask & (cover == 0)


def without_areas(mask: BoolImage, outlines: Sequence[Polygon]) -> BoolImage:
    """Take areas a person outlined (writing, glare, something lying there) out of a mask.

    Raises
    ------
    RegionError
        If an outline is none, or nothing of the mask is left.
    """
    if not outlines:
        return mask
    mask = mask.copy()
    for outline in outlines:
        corners = np.asarray(outline, dtype=np.float64)
        if corners.ndim != 2 or corners.shape[1] != 2 or len(corners) < 3:
            raise RegionError("An area to leave out is no outline", "draw it round once more")
        mask &= ~_drawn(corners, mask.shape)
    if not mask.any():
        raise RegionError("The areas left out cover all of the surface", "take some of them back")
    return mask


def inspected_region(
    region: Region | None,
    shape: tuple[int, int],
    cards: Sequence[Polygon],
    leave_out: Sequence[Polygon],
) -> BoolImage:
    """The region as a mask, without scale cards and without what is to be left out."""
    mask = region_mask(region, shape)
    beside = without_cards(mask, cards)
    if cards and np.count_nonzero(beside) < LEAST_BESIDE * np.count_nonzero(mask):
        raise RegionError(
            "What is to be measured lies on the scale card, which is never measured itself",
            "outline the surface beside the card, or take a photo that shows more of it",
        )
    return without_areas(beside, leave_out)


def _drawn(numbers: NDArray[np.float64], shape: tuple[int, int]) -> BoolImage:
    mask = np.zeros(shape, dtype=np.uint8)
    if not np.isfinite(numbers).all():
        raise RegionError("The region holds a number that is none", "draw the region again")
    if numbers.shape == (4,):
        x, y, width, height = numbers
        if width <= 0 or height <= 0:
            raise RegionError(
                "The region has no width or no height", "give x, y, width and height in pixels"
            )
        left, right = np.clip(np.round([x, x + width]), 0, shape[1]).astype(int)
        top, bottom = np.clip(np.round([y, y + height]), 0, shape[0]).astype(int)
        mask[top:bottom, left:right] = 1
    elif numbers.ndim == 2 and numbers.shape[1] == 2 and len(numbers) >= 3:
        # Far outside the picture nothing is drawn, and whole numbers stay small enough.
        corners = np.clip(numbers, -(2**15), 2**15)
        cv2.fillPoly(mask, [np.round(corners * 16).astype(np.int32)], 1, shift=4)
    else:
        raise RegionError(
            "A region is a box of x, y, width and height or an outline of three or more points",
            "draw it again",
        )
    return mask.astype(bool)
