"""What speaks against outlined objects, for each by itself and for the lot of them."""

from functools import partial

import numpy as np

from defectlog.measure.arrays.light import BoolImage, as_share
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates import dashes, faint, pits, single_dashes
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import Shapes
from defectlog.measure.outlines.sizing import Objects, Sizes

LONE_PX2 = 20
# Of what lies on cloth that is known, these many times the least contrast is asked of the whole of
# it.
STANDS_OUT = 1.1


def verdicts_on(
    objects: Objects,
    sizes: Sizes,
    plain: list[tuple[BoolImage, str]],
    surface: Surface,
    inspected: BoolImage,
    side: Look,
    judged: Tail,
    turned: list[Turned],
    alone: bool,
) -> list[tuple[BoolImage, str]]:
    """Which of some objects are no voids, and why, the plainest reasons first.

    Parameters
    ----------
    objects, sizes : (n,)
    plain : what needs no size: thin ones, pockets of resin, noise and pieces of lines
    surface : they lie on
    inspected : (M, N) bool, what was before yarns were told
    side : whether they are darker than it or brighter
    judged : the tail they were told by
    turned : what was turned down before, seed by seed
    alone : whether no population speaks for them

    Returns
    -------
    list of (n,) bool, and the reason
    """
    shapes, rise, area = objects.shapes, objects.rise, sizes.area
    reach = reach_of(side, judged)
    is_like_cloth = partial(faint.is_hump, objects.half, objects.edge)
    yarn = dashes.in_file(shapes, area, rise.height, turned)
    yarn |= single_dashes.cut_off(inspected, shapes, rise.height, yarn)
    verdicts = list(plain)
    if judged.bare:
        verdicts.append((yarn, judging.WEAVE))
        # On a dark tow a void takes little light, but as much of what there is.
        of_cloth = rise.height / np.maximum(1 - rise.around, 0.05)
        if alone:
            verdicts.append((_is_lone_speck(shapes, area), judging.ALONE))
        # What is left of tows is of many strengths itself: none of it tells what voids are.
        hump = is_like_cloth(of_cloth, np.zeros_like(of_cloth), sizes.blur_px, reach)
        hump |= of_cloth < STANDS_OUT * as_share(judged.threshold, dark=True)
        verdicts.append((hump, judging.FAINT))
        return verdicts
    yarn |= single_dashes.like_the_cloth(
        surface, shapes, turned, inspected, threshold=judged.threshold
    )
    verdicts.append((yarn, judging.WEAVE))
    if alone:
        verdicts.append((_is_lone_speck(shapes, area), judging.ALONE))
    else:
        large = area > faint.LARGE_MM2 * surface.px_per_mm**2
        # Where hardly anything stands out it is the lot that is judged, or none of it.
        rest = ~np.logical_or.reduce([verdict for verdict, _ in verdicts])
        rest = rest if judged.is_clear else None
        hump = is_like_cloth(rise.height, rise.around, sizes.blur_px, reach, large, rest=rest)
        asked = as_share(judged.threshold, dark=side == "dark")
        if judged.is_clear and not judged.is_two_tone:
            hump &= ~faint.stands_by_itself(rise.height, reach, asked)
            hump |= faint.owes_to_surface(rise.height, objects.half, sizes.blur_px, asked)
        verdicts.append((hump, judging.FAINT))
        if side == "dark" and not judged.is_two_tone:
            rest = ~np.logical_or.reduce([verdict for verdict, _ in verdicts])
            pit = pits.among(
                shapes, objects.counted, area, rise.height, sizes.blur_px, rest, asked=asked
            )
            verdicts.append((pit, judging.PIT))
    # What is turned down one by one lies where cloth lies, and says nothing of the rest.
    rest = ~np.logical_or.reduce([verdict for verdict, _ in verdicts])
    if judging.lie_on_folds(rise, area * rest, reach=reach):
        verdicts.append((np.ones_like(rest), judging.SOFT))
    return verdicts


def _is_lone_speck(shapes: Shapes, area: FloatArray) -> BoolImage:
    """What is no void if it is one by itself: too small, or long."""
    return (area < LONE_PX2) | (np.array(shapes.words, dtype=str) == "long")


def reach_of(side: Look, judged: Tail) -> float:
    """How far the surface itself goes to the side away from voids, as a share of its light."""
    return as_share(judged.reach, dark=side != "dark")
