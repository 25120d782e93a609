"""Pits between tows: weaker than the voids among them, and drawn out as gaps are."""

import math

import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.outlines import blurred
from defectlog.measure.outlines.shapes import Shapes

# Voids are as strong as those up to which this share of their area is, from the weakest on. What
# is weaker than the one share of that may be pits, those stronger than the other are voids; and
# those next to the weak are what a single population of voids runs on into.
TYPICAL, WEAK, STRONG, NEXT = 0.75, 0.6, 0.75, 0.8
# Of smaller objects, by their radius in deviations of the blur, strength and shape are unsure:
# they have to be weaker still, and what blur took of them is made up for no further than this.
CLEAR_FROM, SMALL_WEAK, LEAST_SHOWN = 2.2, 0.45, 0.45
FEWEST = 6
# Pits are the end of what cloth is: half of them stand out by hardly more than what was asked.
HARDLY = 1.15
# They are more than a fifth of those next in strength. Most of them, and more than by chance, are
# longer for their breadth than a quarter of the voids; and more than of those next, unless these
# are hardly any.
OF_NEXT, A_QUARTER, MOSTLY, DEVIATIONS, MORE = 0.2, 0.25, 0.6, 3.0, 0.15


def among(
    shapes: Shapes,
    counted: FloatArray,
    area: FloatArray,
    height: FloatArray,
    sigma: float,
    rest: BoolImage,
    *,
    asked: float,
) -> BoolImage:
    """Which of some dark objects are pits of the cloth.

    Parameters
    ----------
    shapes : of the objects
    counted, area : (n,) pixels within the outline of each, and its area with the blur allowed for
    height : (n,) contrast of each to the surface about it, as a share of light
    sigma : blur of the picture, in pixels
    rest : (n,) bool, those that nothing else speaks against
    asked : contrast that voids were found by, as a share of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    Where tows cross, and where one dips beside another, cloth is deeper than about it and darker,
    and drawn out along the gap it lies in. Voids of many strengths are round or long, the weak as
    the strong, and run on from the one to the other; noise frays the weak, but those next in
    strength nearly as much. Weak ones that are drawn out are a population of their own.
    """
    none = np.zeros(len(area), dtype=bool)
    if not rest.any():
        return none
    radius = np.sqrt(counted / math.pi) / sigma
    shown = np.interp(radius, blurred.DISC_HALF_RADIUS, blurred.DISC_SHOWN)
    strength = height / np.maximum(shown, LEAST_SHOWN)
    order = np.flatnonzero(rest)[np.argsort(strength[rest], kind="stable")]
    upto = area[order].cumsum()
    strength /= strength[order[np.searchsorted(upto, TYPICAL * upto[-1])]]
    clear = radius > CLEAR_FROM
    told = rest & clear
    weak, strong = told & (strength < WEAK), told & (strength > STRONG)
    if min(np.count_nonzero(weak), np.count_nonzero(strong)) < FEWEST:
        return none
    between = told & ~weak & (strength < NEXT)
    if np.median(height[weak]) > HARDLY * asked or not _is_apart(shapes, weak, between, strong):
        return none
    return strength < np.where(clear, WEAK, SMALL_WEAK)


def _is_apart(shapes: Shapes, weak: BoolImage, between: BoolImage, strong: BoolImage) -> bool:
    """Whether the weak are so many, and so drawn out, as the end of one population is not."""
    count, near = np.count_nonzero(weak), np.count_nonzero(between)
    if count < OF_NEXT * near:
        return False
    long = shapes.length / np.maximum(shapes.breadth, 1)
    long = long > np.quantile(long[strong], 1 - A_QUARTER)
    drawn_out = np.count_nonzero(weak & long) / count
    by_chance = A_QUARTER + DEVIATIONS * math.sqrt(A_QUARTER * (1 - A_QUARTER) / count)
    if drawn_out < max(by_chance, MOSTLY):
        return False
    return count > 2 * near or drawn_out > np.count_nonzero(between & long) / near + MORE
