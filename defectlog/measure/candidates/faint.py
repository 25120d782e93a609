"""What is too faint for a void of its picture, and more likely cloth."""

import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.outlines import blurred

# Cloth among the voids is fainter than they are and softer than the picture's edges: by how
# much of the one asks for how much of the other.
HUMPS = ((0.4, 1.15), (0.6, 1.5))
# What is larger than tows are is no hump of the cloth: only what a fold leaves of its flanks, which
# is fainter, and a patch with fringes has soft edges.
LARGE_MM2, LARGE_FAINT = 8.0, 0.45
# Where voids are of many strengths there are some between these shares of the typical, and the
# fainter ones run on from them.
NEXT = (0.45, HUMPS[-1][0])
# But a small void is widened by the bright tow it lies on, and seems soft. Cloth does not go so
# many times as far as the surface does the other way.
SMALL, SMALL_FAINT, NO_CLOTH = 3.5, 0.45, 3.0
# What is so many times wider than the blur, half of it, shows all of its contrast; if it lacks a
# fifth of what was asked for, it owes that to the surface about it.
SHOWN, OWN = 3.0, 0.8
# Or fainter still, and no stronger than some times what the surface does the other way.
BURIED, AS_CLOTH = 0.3, 2.0
# What stands out of the surface about it by so much more than the whole surface was asked for, and
# so many times what that does the other way, is no cloth, however soft.
BEYOND, FURTHER = 1.5, 2.5


def is_hump(
    half_px: FloatArray,
    edge_px: FloatArray,
    height: FloatArray,
    around: FloatArray,
    sigma: float,
    reach: float,
    large: BoolImage | None = None,
    *,
    rest: BoolImage | None = None,
) -> BoolImage:
    """Objects fainter than the picture's voids, and softer than its edges or like its cloth.

    Parameters
    ----------
    half_px : half width of each
    edge_px : pixels over which it falls from 65 to 35 % of its rise
    height : its contrast to the surface about it
    around : contrast of that surface to the even light
    sigma : blur of the picture
    reach : how far the surface itself goes the other way, as a share of its light
    large : (n,) bool, which are larger than tows are
    rest : those that nothing else speaks against, which tell whether voids here are of many
        strengths; None where these can't tell

    Notes
    -----
    A void has a light of its own, whatever it lies on: a dark one stands out more from a bright
    tow than from even cloth, and one that does not is no fainter a void for it.
    """
    level = typical_height(height + around, half_px, sigma)
    typical = level - np.minimum(around, 0)
    sharp = np.interp(half_px / sigma, blurred.DISC_HALF_RADIUS, blurred.DISC_EDGE) * sigma
    hump = np.zeros(len(height), dtype=bool)
    for faint, soft in HUMPS:
        share = faint if large is None else np.where(large, min(faint, LARGE_FAINT), faint)
        hump |= (height < share * typical) & (edge_px > soft * sharp)
    small = (half_px < SMALL * sigma) & (height > SMALL_FAINT * typical)
    hump &= ~(small & (height > NO_CLOTH * reach))
    clear = half_px > 2.0 * sigma
    if rest is not None:
        least, most = NEXT
        stronger = ~hump & (height >= least * typical) & (height < most * typical)
        if _are_rarer(hump & clear & rest, stronger & clear & rest, half_px):
            hump[:] = False
    hump |= height < np.minimum(BURIED * typical, AS_CLOTH * reach)
    return hump & clear


def _are_rarer(faint: BoolImage, stronger: BoolImage, half_px: FloatArray) -> bool:
    """Whether the faint objects are fewer than those next in strength, and cover less.

    The weak of a population of voids of many strengths are; cloth comes on top of these, in
    numbers or in size.
    """
    fewer = np.count_nonzero(faint) < np.count_nonzero(stronger)
    return fewer and float(np.sum(half_px[faint] ** 2)) < float(np.sum(half_px[stronger] ** 2))


def stands_by_itself(height: FloatArray, reach: float, asked: float) -> BoolImage:
    """Objects that stand out of what is close about them further than cloth does by itself.

    Parameters
    ----------
    height : contrast of each to the surface about it, as a share of light
    reach : how far the surface itself goes the other way, as a share of its light
    asked : contrast to the even light that each was found by

    Notes
    -----
    Among strong voids weak ones are as faint as cloth; but cloth that is beyond what was asked
    owes a part of it to what is about it.
    """
    return height > max(BEYOND * asked, FURTHER * reach)


def owes_to_surface(
    height: FloatArray, half_px: FloatArray, sigma: float, asked: float
) -> BoolImage:
    """Objects that are off the even light by what was asked of voids, but hardly by themselves.

    Parameters
    ----------
    height : contrast of each to the surface about it, as a share of light
    half_px : half width of each
    sigma : blur of the picture
    asked : contrast to the even light that each was found by

    Notes
    -----
    They are the upper part of something wider: light tows on the crest of a fold.
    """
    return (half_px > SHOWN * sigma) & (height < OWN * asked)


def typical_height(height: FloatArray, half_px: FloatArray, sigma: float) -> float:
    """Contrast of the clearly seen voids with the sharpest edges; 0 if too few can tell."""
    clear = half_px > 2.0 * sigma
    if np.count_nonzero(clear) < 8:
        return 0.0
    return float(np.quantile(height[clear], 0.75))
