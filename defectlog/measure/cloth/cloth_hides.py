"""What cloth hides: where it is itself nearly as dark as its voids, more may lie unseen."""

import math

import numpy as np

from defectlog.measure.arrays.halves import both
from defectlog.measure.arrays.light import BoolImage, inverse_of
from defectlog.measure.arrays.pixels import IndexArray, rows_and_columns
from defectlog.measure.arrays.quantiles import middle_of_steps
from defectlog.measure.cloth.surface import Surface

SAMPLED = 4  # of so many pixels one along a side; a power of two


def hidden_voids(surface: Surface, voids: IndexArray, threshold: float) -> float:
    """How much of a surface may be voids that its cloth hides, as a share of it, 0-1.

    Parameters
    ----------
    surface : without its weave; of bright voids, as its inverse
    voids : pixels of those that were found, in the flattened picture
    threshold : contrast to the cloth that they were found by, in log units of light

    Notes
    -----
    How dark voids are is told by those on the lighter half of the cloth, where all of them are
    seen. That is the light of what lies in the void, whatever tow is beside it: on dark tows it
    differs the less from the cloth. Where the way along the tows was lost, nothing is seen at all.
    Where cloth hides voids, there may be as many for its area as where they are seen, beside the
    few that were found: they gather in gaps and at crossings, which are dark.
    """
    some, half = ((slice(None, None, step),) * 2 for step in (SAMPLED, SAMPLED // 2))
    inspected = np.ascontiguousarray(surface.inspected[some])

    def light_ones() -> BoolImage:
        cloth = np.ascontiguousarray(surface.expected[half])
        return cloth > middle_of_steps(cloth[inspected])

    is_light, found = both(light_ones, lambda: _sampled(voids, surface.ratio.shape))
    on_light = found & is_light
    if not on_light.any():
        return 0.0
    light = surface.ratio[some][on_light]
    dark = middle_of_steps(inverse_of(light) if surface.is_inverse else light)
    hides = surface.least < dark * math.exp(threshold)
    seen = np.count_nonzero(inspected & ~hides)
    if not seen:
        return 1.0
    hidden = np.count_nonzero(inspected & hides)
    return hidden / (hidden + seen) * np.count_nonzero(found & ~hides) / seen


def _sampled(pixels: IndexArray, shape: tuple[int, int]) -> BoolImage:
    """Those of some pixels of a picture of that shape that are sampled, drawn at that size."""
    drawn = np.zeros(tuple(-(-side // SAMPLED) for side in shape), dtype=bool)
    row, column = rows_and_columns(pixels, shape[1])
    which = np.flatnonzero((row | column) & (SAMPLED - 1) == 0)
    drawn[row.take(which) // SAMPLED, column.take(which) // SAMPLED] = True
    return drawn
