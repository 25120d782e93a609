"""Gaps between tows that stay where the weave was taken out, for they were met astray."""

from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, RatioImage
from defectlog.measure.arrays.pixels import FloatArray, rows_and_columns
from defectlog.measure.candidates.faint import LARGE_MM2
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave_direction import from_weave, weave_direction
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.shapes import Shapes

# Objects so much longer than wide, and so near to the way of the tows, may be gaps.
LONGER, ALONG_DEG, FEWEST = 2.0, 20.0, 8
# Half and more of gaps met astray are lighter than a tenth of the cloth, half of voids in gaps
# darker than a hundredth; or than a twentieth where these are so dense that some of the cloth is
# told as void. Gaps being there, what is lighter than the darkest cloth is one.
DARK, DARKEST = 0.1, 0.05
SAMPLED = 2  # of so many pixels of half the size one along a side
# A gap that opens here and there along a tow is as dark as any void, but the second darkest of the
# places that tell the cloth shows half of its contrast again; of that of voids a tenth, or where
# these are dense what most of those show that are not long.
AGAIN, MOST = 0.3, 0.75
TOLD_BY = 300  # objects
WIDE = 1024  # so many pixels in a row where some are looked up, as a picture of its own


def without_gaps(found: Found, surface: Surface) -> Found:
    """Turn down what is long, lies along tows, and is no darker than cloth or shows again.

    Parameters
    ----------
    found : dark voids
    surface : they were found on, without its weave

    Notes
    -----
    A long void lies in a gap, and takes light from what is the darkest of the cloth: it is darker
    than nearly all of that. A gap that other places of the same tow do not show, because these
    were met a little beside it, stands out of the light tows about it and is as dark as gaps are;
    one that most of them do not show, because it is closed there, is as dark as where it is open.
    """
    shapes = found.shapes
    long = found.kept & (shapes.length > LONGER * shapes.breadth)
    if np.count_nonzero(long) < FEWEST:
        return found
    dark = _no_darker_than_cloth(shapes, long, surface)
    along = long & _along_tows(found, surface)
    gap = (along & dark) | _shown_again(found, along, surface)
    if not gap.any():
        return found
    return replace(found.without(gap, judging.LINE), struck=found.struck | found.drawn(gap))


def _no_darker_than_cloth(shapes: Shapes, long: BoolImage, surface: Surface) -> BoolImage:
    """Which objects are lighter than the darkest cloth; none if most long ones are dark."""
    light, (dark, darkest) = shapes.means_of(surface.ratio), _dark_of(surface)
    if float(np.median(light[long])) <= dark:
        return np.zeros_like(long)
    return light > darkest


def _dark_of(surface: Surface) -> FloatArray:
    """Light that only the dark of the cloth is below, and the darkest."""
    half, full = ((slice(None, None, step),) * 2 for step in (SAMPLED, 2 * SAMPLED))
    cloth = surface.expected[half][surface.inspected[full]]
    return np.quantile(cloth, (DARK, DARKEST))


def _shown_again(found: Found, along: BoolImage, surface: Surface) -> BoolImage:
    """Which objects other places of their tows show as well, as most of those along tows do.

    Where nearly all there is lies along tows, it is gaps, with what else shows again.
    """
    small = found.area < LARGE_MM2 * surface.px_per_mm**2
    along = along & small
    others = found.kept & ~along & small
    some, beside = (_few_of(which) for which in (along, others))
    if surface.places is None or np.count_nonzero(along) < FEWEST:
        return np.zeros_like(along)
    again = _again(found.shapes, some | beside, surface)
    is_most = np.count_nonzero(along) > np.count_nonzero(others)
    asked = AGAIN if is_most else max(AGAIN, float(np.quantile(again[beside], MOST)))
    if float(np.median(again[some])) <= asked:
        return np.zeros_like(along)
    which = others if is_most else along
    shown = which & (_again(found.shapes, which, surface) > asked)
    return shown | along if is_most else shown


def _few_of(which: BoolImage) -> BoolImage:
    """So many objects that they tell what all are like, from all over the picture."""
    of = np.flatnonzero(which)
    few = np.zeros_like(which)
    few[of[:: -(-len(of) // TOLD_BY)] if len(of) else of] = True
    return few


def _again(shapes: Shapes, which: BoolImage, surface: Surface) -> FloatArray:
    """What part of their contrast some objects show at the second darkest of other places.

    By the family of tows that shows more of it; 0 for all other objects.
    """
    if not which.any():
        return np.zeros(len(which))
    chosen = which[shapes.label]
    label = shapes.label[chosen]
    row, column = rows_and_columns(shapes.at[chosen], surface.ratio.shape[1])
    count = np.maximum(np.bincount(label, minlength=len(which)), 1)

    def means(light: RatioImage) -> FloatArray:
        return np.bincount(label, light, len(which)) / count

    cloth = means(surface.expected[row // 2, column // 2])
    own = means(surface.ratio[row, column])
    # As a picture of some rows they can be looked up; the last ones come up twice.
    row, column = (np.resize(at, (-(-len(label) // WIDE), WIDE)) for at in (row, column))
    light = surface.ratio
    if not surface.is_whole:
        light = cv2.copyTo(light, surface.inspected.view(np.uint8))
    again = np.full(len(which), -np.inf)
    for family in surface.places:
        shown = []
        for step in family:
            down, across = step.at(row, column)
            there = cv2.remap(light, across, down, cv2.INTER_LINEAR).ravel()[: len(label)]
            # Where nothing is inspected, nothing shows.
            shown.append(np.where(means(there == 0) > 0, np.inf, means(there)))
        again = np.maximum(again, cloth - np.sort(shown, axis=0)[1])
    return np.where(which, again / np.maximum(cloth - own, 1), 0)


def _along_tows(found: Found, surface: Surface) -> BoolImage:
    """Which objects run along either family of tows; all where these have no way."""
    weave_deg = weave_direction(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm)
    if weave_deg is None:
        return np.ones(len(found.shapes.area), dtype=bool)
    return from_weave(found.shapes.direction_deg, weave_deg) < ALONG_DEG
