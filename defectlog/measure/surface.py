"""The surface of a picture, ready to be judged: linear, evenly lit, glare left out."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.errors import DefectlogError
from defectlog.measure.fraction import NothingInspectedError
from defectlog.measure.glare import glare_mask
from defectlog.measure.light import (
    GAMMA,
    BoolImage,
    FloatImage,
    GreyImage,
    flat_field,
    flatten,
    linear_light,
)

LEAST_SURFACE_PX = 2500
LARGEST_WORKED_PX = 24_000_000
FINDING_BLUR_PX = 0.8
LIGHT_MM = 5.0
# Without a scale a photo is taken to show about a third of a metre, from no nearer than
# 8 px/mm; only how far light is smoothed hangs on it.
USUAL_WIDTH_MM = 330.0
LEAST_PX_PER_MM = 8.0


class NoContrastError(DefectlogError):
    """The picture is of one colour: nothing can be told on it."""

    def __init__(self) -> None:
        super().__init__(
            "The region is all one shade, so there is no contrast to measure voids by",
            "check that the photo is sharp and neither black nor burnt out, and take it again",
        )


@dataclass(frozen=True, slots=True)
class Surface:
    """The surface of a picture, evenly lit, at the size it is worked on."""

    ratio: FloatImage  # light relative to the even light
    smooth: FloatImage  # the same, noise evened out for finding
    inspected: BoolImage
    px_per_mm: float  # roughly, where there is no scale
    region_px: int
    shrink: int  # pixels of the picture along the side of a worked one
    is_whole: bool  # all of it inspected
    grey_step: float  # of the picture's values, in log units of light


def prepare(grey: GreyImage, inside: BoolImage, px_per_mm: float | None) -> Surface:
    """Make light linear and even, and leave out what cannot be judged.

    Parameters
    ----------
    grey : (M, N) uint8
    inside : (M, N) bool, the region without scale cards
    px_per_mm : of the picture, if known

    Returns
    -------
    Surface
        Worked on at half size above 24 million pixels.

    Raises
    ------
    NoContrastError
        If the region is all of one shade.
    NothingInspectedError
        If less than 2500 pixels of surface are left.
    """
    _need_contrast(grey, inside)
    shrink = 2 if grey.size > LARGEST_WORKED_PX else 1
    linear = linear_light(grey)
    if shrink > 1:
        size = (grey.shape[1] // shrink, grey.shape[0] // shrink)
        linear = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
        inside = cv2.resize(inside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    if px_per_mm is None:
        nominal = max(max(grey.shape) / USUAL_WIDTH_MM, LEAST_PX_PER_MM)
    else:
        nominal = px_per_mm / shrink
    # Cells of a millimetre, but never so many that their smoothing takes longer than the
    # picture, nor so few that light cannot bend.
    cell = int(np.clip(round(nominal), max(2, max(grey.shape) // 600), 64))
    sigma = float(np.clip(LIGHT_MM * nominal, 12.0, 0.2 * max(grey.shape)))
    field = flat_field(linear, inside, cell_px=cell, sigma_px=sigma)
    glare = glare_mask(grey, field, px_per_mm=nominal)
    inspected = inside if glare is None else inside & ~glare
    left = int(np.count_nonzero(inspected))
    if left * shrink**2 < LEAST_SURFACE_PX:
        raise NothingInspectedError(left * shrink**2)
    ratio = flatten(linear, field)
    if left < inspected.size:
        # What lies outside must not leak in when noise is evened out.
        np.copyto(ratio, 1, where=~inspected)
    smooth = cv2.GaussianBlur(ratio, (5, 5), FINDING_BLUR_PX, dst=linear)
    typical = max(float(np.median(grey[::7, ::7][inspected[::7, ::7]])), 4.0)
    return Surface(
        ratio=ratio,
        smooth=smooth,
        inspected=inspected,
        px_per_mm=nominal,
        region_px=int(np.count_nonzero(inside)),
        shrink=shrink,
        is_whole=left == inspected.size,
        # The rounding error of one grey step has a deviation of 1 / sqrt(12) of it.
        grey_step=GAMMA / typical / 12**0.5,
    )


def _need_contrast(grey: GreyImage, inside: BoolImage) -> None:
    inspected = int(np.count_nonzero(inside))
    if inspected < LEAST_SURFACE_PX:
        raise NothingInspectedError(inspected)
    low, high, *_ = cv2.minMaxLoc(grey, inside.view(np.uint8))
    if high - low < 3:
        raise NoContrastError
