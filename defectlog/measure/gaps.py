"""Gaps between tows that stay where the weave was taken out, for they were met astray."""

from dataclasses import replace

import numpy as np

from defectlog.measure import judging
from defectlog.measure.arrangement import from_weave, weave_direction
from defectlog.measure.found import Found
from defectlog.measure.light import BoolImage
from defectlog.measure.pixels import FloatArray
from defectlog.measure.surface import Surface

# Objects so much longer than wide, and so near to the way of the tows, may be gaps.
LONGER, ALONG_DEG, FEWEST = 2.0, 20.0, 8
# Half and more of gaps met astray are lighter than a tenth of the cloth, half of voids in gaps
# darker than a hundredth; or than a twentieth where these are so dense that some of the cloth is
# told as void. Gaps being there, what is lighter than the darkest cloth is one.
DARK, DARKEST = 0.1, 0.05
SAMPLED = 2  # of so many pixels of half the size one along a side


def without_gaps(found: Found, surface: Surface) -> Found:
    """Turn down what is long, lies along tows and is no darker than cloth.

    Parameters
    ----------
    found : dark voids
    surface : they were found on, without its weave

    Notes
    -----
    A long void lies in a gap, and takes light from what is the darkest of the cloth: it is darker
    than nearly all of that. A gap that other places of the same tow do not show, because these
    were met a little beside it, stands out of the light tows about it and is as dark as gaps are.
    """
    long = found.kept & (found.shapes.length > LONGER * found.shapes.breadth)
    if np.count_nonzero(long) < FEWEST:
        return found
    light, (dark, darkest) = found.shapes.means_of(surface.ratio), _dark_of(surface)
    if float(np.median(light[long])) <= dark:
        return found
    gap = long & (light > darkest) & _along_tows(found, surface)
    if not gap.any():
        return found
    columns, shapes = found.mask.shape[1], found.shapes
    turned = judging.turned_down(shapes.at, shapes.label, gap, columns, judging.LINE)
    return replace(
        found,
        kept=found.kept & ~gap,
        turned=(*found.turned, turned),
        struck=found.struck | found.drawn(gap),
    )


def _dark_of(surface: Surface) -> FloatArray:
    """Light that only the dark of the cloth is below, and the darkest."""
    half, full = ((slice(None, None, step),) * 2 for step in (SAMPLED, 2 * SAMPLED))
    cloth = surface.expected[half][surface.inspected[full]]
    return np.quantile(cloth, (DARK, DARKEST))


def _along_tows(found: Found, surface: Surface) -> BoolImage:
    """Which objects run along either family of tows; all where these have no way."""
    weave_deg = weave_direction(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm)
    if weave_deg is None:
        return np.ones(len(found.shapes.area), dtype=bool)
    return from_weave(found.shapes.direction_deg, weave_deg) < ALONG_DEG
