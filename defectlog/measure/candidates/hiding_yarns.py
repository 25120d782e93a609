"""Dyed yarn that hides voids, for it is as dark as they are: it is not inspected."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage, as_ratio
from defectlog.measure.arrays.masks import grown
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.joined_dashes import EDGE_PX
from defectlog.measure.candidates.yarns import Yarns
from defectlog.measure.cloth.likeness import middle_and_spread
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave_objects import Objects
from defectlog.units import percent

# How far beyond the cloth's own contrast a void on it has to be, as a share of that.
DEEPER = 0.4
# What stands out is as dark as this share of it, its edges being lighter.
DARKEST = 0.25
# Of voids a ninth at most of what lies free touches yarn as well, on rendered surfaces; of what is
# left of yarns themselves twice as much as lies free, and more.
AT_YARNS = 0.5


def hiding_voids(
    yarns: Yarns, objects: Objects, cloth: BoolImage, light: RatioImage, *, sign: float
) -> tuple[BoolImage, IndexArray] | None:
    """Where yarns lie, if voids like those beside them would not stand out of them.

    Parameters
    ----------
    yarns : of the cloth
    objects : what stands out, from ``weave_objects.objects_of``
    cloth : (n + 1,) bool, which of them are cloth, yarns or not
    light : of their pixels
    sign : 1 for dark objects, -1 for bright ones

    Returns
    -------
    (M, N) bool, and the pixels of the flattened picture that jut out of the yarns
        None where voids on them would show.
    """
    is_yarn = np.zeros_like(cloth)
    is_yarn[1 + yarns.all] = True
    of_yarn, free = (which.take(objects.label) for which in (is_yarn, ~cloth))
    if not free.any():
        return None
    strong = np.quantile(light.compress(free), DARKEST if sign > 0 else 1 - DARKEST)
    of_voids = float(strong) / ONE
    if sign * (asked_on(light.compress(of_yarn), sign) - of_voids) > 0:
        return None
    yarn = objects.drawn(is_yarn).view(np.uint8)
    jutting = yarns.jutting_out(yarn.shape[1])
    yarn.ravel()[jutting] = 0
    edge = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * EDGE_PX + 1,) * 2)
    return cv2.dilate(yarn, edge) > 0, jutting


def asked_on(cloth: RatioImage, sign: float) -> float:
    """The light that is far beyond what some cloth itself shows, as a share of the even light."""
    middle, sd = middle_and_spread(as_ratio(cloth))
    return middle - sign * max(5 * sd, DEEPER * abs(1 - middle))


def lie_at_yarns(found: Found, hiding: BoolImage) -> bool:
    """Whether too much of what was found touches yarns, or nothing was: voids lie anywhere."""
    near = grown(hiding, 1).ravel()
    touches = np.bincount(found.shapes.label, near[found.shapes.at], len(found.kept)) > 0
    touching, free = (float(found.area[found.kept & one].sum()) for one in (touches, ~touches))
    return touching >= AT_YARNS * free


def hidden_share(found: Found, surface: Surface) -> float:
    """The share of the region that is yarn which hides voids, and was not inspected, 0-1."""
    if found.dyed is None:
        return 0.0
    return np.count_nonzero(found.dyed & ~surface.inspected) / surface.region_px


def beware_of_yarns(found: Found, surface: Surface) -> list[str]:
    """What of the region is yarn that hides voids, in words."""
    share = hidden_share(found, surface)
    if share == 0:
        return []
    return [
        f"{percent(share)} of the region is dyed yarn about as {found.look} as the voids: they "
        "would not show on it, and it was not inspected."
    ]
