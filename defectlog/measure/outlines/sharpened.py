"""What a camera's sharpening does to the outlines of voids, and how it is seen in a picture.

A camera sharpens grey values by an unsharp mask: what differs from the values round it is made to
differ by more. Beside an edge that draws a seam, lighter about what is dark, and darker about what
is light.
"""

import math

import numpy as np

from defectlog.measure.arrays.pixels import FloatArray

# A seam of such a share of the voids' own contrast is that of strong sharpening, a mask of 0.6 and
# 1.2 px. It is asked of voids of more than such a half width, and of so many of them.
SEAM, HALF_PX, LEAST = 0.015, 3.5, 8
SURE = 2.0  # standard errors that it has to be clear of chance, for cloth lies there as well
# Such a mask leaves half of what blur does to the outline, and moves values at the edge by such a
# share of their distance to the mean of both sides.
TAKES_BACK, MOVES = 0.5, 0.25
NARROW, WIDE = 4.0, 8.0  # deviations of the blur across
CLOSE_PX, FAR_PX = 0.75, 1.25  # blur from which on seams begin to leave the zones, and have
GREY = 1 / 2.2  # values are about this power of light
# So much of what is made up for is unsure: how wide the mask was is not seen.
UNSURE = 0.5
# Nor is how much of the seam's light was summed with small voids: it may be so many times the seam.
LIGHT_UNSURE = 2.0


def seam_of(rim: FloatArray, height: FloatArray, half_px: FloatArray) -> float:
    """The seam beside voids as a share of their contrast; 0 for a picture that is not sharpened.

    Parameters
    ----------
    rim : (n,) mean contrast close about each void, without what blur leaves there of its own: below
        0 where it is beyond the surface's; 0 where it is not known
    height : (n,) contrast of each
    half_px : (n,) half its width
    """
    clear = (half_px > HALF_PX) & (rim != 0) & (height > 0)
    if np.count_nonzero(clear) < LEAST:
        return 0.0
    seam = -rim[clear] / height[clear]
    # Of normal scatter a median is off by √(π/2) times as much as a mean.
    off = math.sqrt(math.pi / 2 / len(seam)) * float(np.std(seam))
    return max(float(np.median(seam)) - SURE * off, 0.0)


def beyond_zones(sigma: float) -> float:
    """How much of the seam, 0 to 1, small voids are not summed with, in a picture so blurred.

    A mask moves light from the seam to the void and leaves their sum what it was. Beside a soft
    void the seam lies at the rim of what is summed and beyond: there it must not be taken for the
    surface that the void is judged by, which would add it to the void once more.
    """
    return float(np.clip((sigma - CLOSE_PX) / (FAR_PX - CLOSE_PX), 0.0, 1.0))


def felt_by(breadth_px: FloatArray, sigma: float) -> FloatArray:
    """0 for voids so narrow against the blur that a mask deepens the whole of them, to 1."""
    return np.clip((breadth_px / sigma - NARROW) / (WIDE - NARROW), 0.0, 1.0)


def moved_inwards(height: FloatArray, sigma: float, *, dark: bool) -> FloatArray:
    """By how many pixels strong sharpening moves the outlines at half contrast inwards.

    Parameters
    ----------
    height : (n,) contrast of each void, as a share of light
    sigma : blur of the picture, pixels
    dark : whether the voids are

    Notes
    -----
    Halfway in light is not halfway in grey values, but nearer to the lighter side; what is lighter
    than the mean of both sides is made lighter still. So the outline moves to the darker side, by
    what values are moved over their slope at the edge.
    """
    sign = -1.0 if dark else 1.0
    own = np.maximum(1 + sign * height, 0.02)
    middle, span = (1 + own) / 2, np.maximum(np.abs(own - 1), 0.02)
    beyond = middle**GREY - (1 + own**GREY) / 2
    slope = GREY * middle ** (GREY - 1) * span / (sigma * math.sqrt(2 * math.pi))
    return -sign * MOVES * beyond / slope
