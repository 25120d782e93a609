"""The quarter of a surface on which most stands out: what is none there is none elsewhere."""

import math

import numpy as np

from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.cloth.surface import Surface

# It begins at one of so many places along a side, and is half as long.
PLACES = 3
SAMPLED = 9  # of so many pixels one along a side


def fullest_quarter(surface: Surface, side: Look, contrast: float) -> Surface:
    """Where on a surface most of it stands out.

    Parameters
    ----------
    surface : evenly lit
    side : what stands out is darker than the rest, or brighter
    contrast : by so much, in log units of light
    """
    some = (slice(None, None, SAMPLED),) * 2
    out = stands_out(surface.smooth[some], side, contrast) & surface.inspected[some]
    windows = [(down, across) for down in _halves(out.shape[0]) for across in _halves(out.shape[1])]
    fullest = max(windows, key=lambda window: np.count_nonzero(out[window]))
    return surface.part(*(slice(SAMPLED * way.start, SAMPLED * way.stop) for way in fullest))


def stands_out(light: RatioImage, side: Look, contrast: float) -> BoolImage:
    """What of some light is darker, or brighter, than even light by so many log units and more."""
    if side == "dark":
        return light < ONE * math.exp(-contrast)
    return light > ONE * math.exp(contrast)


def _halves(length: int) -> list[slice]:
    """Pieces half as long, evenly spaced from the first to the last."""
    half = length // 2
    starts = [place * (length - half) // (PLACES - 1) for place in range(PLACES)]
    return [slice(start, start + half) for start in starts]
