"""Specks that only a few voids made believable which are far larger, or far stronger."""

import math

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging

# Voids from this area on are large; the rest are crumbs if they have less than that share of
# the area of these, and lie further from them than that.
LARGE_MM2 = 8.0
CRUMBS_SHARE = 0.25
NEAR_MM = 5.0
# Hardly any void is weaker than so much of the tenth strongest; specks that are, and are so many
# times as many as the rest, are a population of their own or none. About each strong void so many
# pixels belong to it.
TENTH, WEAK, TIMES_AS_MANY, RIM_PX = 10, 0.6, 5, 4


def few_large(found: Found, surface: Surface) -> BoolImage | None:
    """Which of the voids found are large, where these have nearly all of the area; else None."""
    large = found.kept & (found.area > LARGE_MM2 * surface.px_per_mm**2)
    if not large.any():
        return None
    small = float(found.area[found.kept & ~large].sum())
    return None if small > CRUMBS_SHARE * float(found.area[large].sum()) else large


def crumbs_of(found: Found, surface: Surface) -> tuple[BoolImage, BoolImage] | None:
    """The specks far from large voids, where these have nearly all of the area.

    Returns
    -------
    specks : (n,) bool, of the voids found: what is near to a large one may be a splinter of it
    about : (M, N) bool, the large voids and what is near to them
    None where there are no such voids, or no specks.
    """
    large = few_large(found, surface)
    if large is None:
        return None
    small = found.kept & ~large
    if not small.any():
        return None
    rows, columns = found.mask.shape
    step = max(1, round(0.25 * surface.px_per_mm))
    about = np.zeros((-(-rows // step), -(-columns // step)), np.uint8)
    row, column = np.divmod(found.shapes.at[large[found.shapes.label]], columns)
    about[row // step, column // step] = 1
    reach = 2 * math.ceil(NEAR_MM * surface.px_per_mm / step) + 1
    about = cv2.dilate(about, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    x, y = (np.asarray(place, np.int64) // step for place in (found.shapes.x, found.shapes.y))
    small &= about[y, x] == 0
    if not small.any():
        return None
    wide = cv2.resize(about, (about.shape[1] * step, about.shape[0] * step), interpolation=0)
    return small, np.ascontiguousarray(wide[:rows, :columns]).view(np.bool_)


def weak_ones(found: Found) -> tuple[BoolImage, BoolImage] | None:
    """The many weak specks among few voids that are far stronger.

    Returns
    -------
    specks : (n,) bool, of the voids found
    about : (M, N) bool, the strong voids with their rims
    None where most are about as strong.
    """
    heights = found.height[found.kept]
    if len(heights) < TENTH * TIMES_AS_MANY:
        return None
    strong = found.kept & (found.height >= WEAK * np.partition(heights, -TENTH)[-TENTH])
    weak = found.kept & ~strong
    if np.count_nonzero(weak) < TIMES_AS_MANY * np.count_nonzero(strong):
        return None
    rim = np.ones((2 * RIM_PX + 1, 2 * RIM_PX + 1), np.uint8)
    return weak, cv2.dilate(found.drawn(strong).view(np.uint8), rim).view(np.bool_)


def without_crumbs(found: Found, specks: BoolImage, least: float) -> Found:
    """Turn down the specks that stand out less than that from the surface, as a share of light.

    A void alone on a surface has to stand out beyond what the surface itself does: so have
    they, once the large or strong voids are left out and nothing more speaks for any others.
    """
    return found.without(specks & (found.height < least), judging.ALONE)
