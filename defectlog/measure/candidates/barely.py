"""Voids that only just count: others like them may lie below the threshold, or these be none."""

import math

import numpy as np

from defectlog.measure.arrays.light import ONE, BoolImage, as_contrast
from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.shapes import Shapes

# A void that is nowhere further off than this times the threshold, in log units of light, only
# just counts: a third beyond it.
BARELY = math.exp(0.3)
# One that is as far off as this on the whole need not be looked into pixel by pixel.
CLEARLY = math.exp(0.5)


def only_just(
    shapes: Shapes, height: FloatArray, surface: Surface, *, look: Look, threshold: float
) -> BoolImage:
    """Which objects are nowhere much further off the surface than the threshold asks.

    Parameters
    ----------
    shapes : of the objects
    height : (n,) contrast of each to the surface about it, as a share of light
    surface : they lie on
    look : the side they lie on
    threshold : contrast that they were found by, in log units of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    The contrasts of the voids that count are a distribution cut off at the threshold. Where
    it is thin there, little can lie below; where it is not, the area just beyond the threshold
    says about how much does, of voids not seen and of cloth that was seen as voids.
    """
    sign = sign_of(look)
    depth = as_contrast(height, dark=look == "dark")
    weak = depth < CLEARLY * threshold
    pixels = np.flatnonzero(weak.take(shapes.label))
    if not len(pixels):
        return weak
    level = ONE * math.exp(-sign * BARELY * threshold)
    light = surface.smooth.ravel().take(shapes.at.take(pixels))
    further = pixels[light < level if sign > 0 else light > level]
    weak[shapes.label.take(further)] = False
    return weak
