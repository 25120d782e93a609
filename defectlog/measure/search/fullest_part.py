"""The part of a large surface on which most stands out: it is taken to speak for all of it."""

from itertools import product

import numpy as np

from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.cloth.surface import Surface

# It is a third of each side long, and begins at one of so many places along it.
LONG, PLACES = 1 / 3, 5
SAMPLED = 9  # of so many pixels one along a side


def fullest_part(surface: Surface, side: Look, contrast: float) -> Surface:
    """Where on a surface most of it stands out; where nothing does, most of it is inspected.

    Parameters
    ----------
    surface : evenly lit
    side : what stands out is darker than the rest, or brighter
    contrast : by so much, in log units of light
    """
    few = surface.sampled(SAMPLED)
    if not few.inspected_px:
        return surface  # a strip that is narrower than that
    out = beyond(few, sign_of(side), contrast)

    def full(window: tuple[slice, ...]) -> tuple[int, int]:
        return np.count_nonzero(out[window]), np.count_nonzero(few.inspected[window])

    fullest = max(product(*(_thirds(length) for length in out.shape)), key=full)
    return surface.part(*(slice(SAMPLED * way.start, SAMPLED * way.stop) for way in fullest))


def _thirds(length: int) -> list[slice]:
    """Pieces a third as long, evenly spaced from the first to the last."""
    long = int(LONG * length)
    starts = [place * (length - long) // (PLACES - 1) for place in range(PLACES)]
    return [slice(start, start + long) for start in starts]
