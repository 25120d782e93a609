"""The voids of a surface: darker than it, brighter, or some of both."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from defectlog.measure.arrays.halves import begun
from defectlog.measure.arrays.light import as_contrast, as_share
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import KINK_LIMIT, Tail
from defectlog.measure.candidates import faint
from defectlog.measure.candidates.creases import Creases, flanks_of
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.candidates.verdicts import reach_of
from defectlog.measure.cloth.cloth_hides import hidden_voids
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.figures import beware
from defectlog.measure.outlines import judging
from defectlog.measure.search.finding import OnOutlined, find_voids
from defectlog.measure.search.gaps import without_gaps
from defectlog.measure.search.joining import one_after_the_other

# Voids reach as far from the surface as the surface does to the other side, nearly or more.
STANDS_OUT = 0.8
# Once what does not belong is taken out and the rest is a weaker population than is asked
# for, it has to stand out so much further.
STANDS_FAR_OUT = 4.0
# A population is clear that is so many times what is asked for of a plain surface.
CLEAR = 2.0
# Of more pixels, both sides at the same time take more memory than there may be to spare.
MOST_AT_ONCE_PX = 25_000_000
# Of a surface that creases cross, less than this beside them says nothing.
LEAST_BESIDE = 0.1
# Voids of the other side are counted as well if they are as clear a population as that, and
# stand out so much further than the surface reaches. The shaded flanks of folds, which are what
# else lies there, reach 5 and 0.8.
OTHERS_KINK, OTHERS_STAND_OUT = 6.0, 1.5
# Many small voids are no clear population pixel by pixel, for their rims go through all shades;
# once outlined they are. On cloth of one tone they stand out by 2.8 and more, and by half as much
# again as is asked of single pixels; flanks of folds mostly by 1.3, and are few, or not a sixth
# as many as the voids beside them.
OTHERS_FAR_OUT, OTHERS_MANY, OTHERS_AS_MANY = 2.0, 50, 0.3
# Where the weave was taken out, edges and crossings of tows that were met astray are left, and may
# be as clear a population. But only the darkest of each reaches what is asked of single pixels, and
# as a whole they don't: voids do. Bright voids beside dark ones on such cloth are as clear as they
# are alone, but for glare: its tows mirror it still.
# Nor are they a few specks beside the others: glints, or dyed yarn that was left over.
OTHERS_SHARE = 0.2
# So many single voids that each stand out far enough to be counted alone are a population, if that
# is nearly as clear as is asked. Gaps met astray, or bent by glare, have no such.
SEVERAL = 5
# What stands out on the side that speaks less is counted alone if it is so many times as much.
FAR_MORE = 10.0
# A glint within a void, or the seam that sharpening draws about it, is no further off.
SEAM_PX = 3


def on_either_side(
    surface_for: Callable[[Look], Surface],
    sides: dict[Look, Tail],
    side: Look,
    outlined: OnOutlined | None = None,
) -> tuple[Found, Tail, Look]:
    """The voids on the side that speaks for them, with those of the other if they are as clear.

    Parameters
    ----------
    surface_for : gives what to look for either kind of voids on
    sides : their tails, or that of the side asked for alone
    side : the one that speaks more for voids
    outlined : is told of voids on that side once they are outlined, if they are clear

    Returns
    -------
    found, judged, side : the voids, the tail they were told by, and its side
        Those of the other side if there are none on this one, or next to none. What may be
        voids on the other side and is not counted is told as doubtful.
    """
    other = next((name for name in sides if name != side), None)
    if other is None:
        return *_judged(surface_for(side), sides, side, outlined), side
    surface = surface_for(side)
    glared = surface.is_glared

    def told_there() -> tuple[Found, Tail]:
        return _judged(surface_for(other), sides, other)

    there = told_there
    # Mostly it is then asked for, whatever is found on this side.
    is_asked_for = not glared and _may_be_clear(sides[other], sides[side])
    if is_asked_for and surface.smooth.size < MOST_AT_ONCE_PX:
        there = begun(told_there)
    found, judged = _judged(surface, sides, side, outlined)
    if not found.kept.any():
        tried, judged_there = there()
        if tried.kept.any():
            return tried, judged_there, other
        return found, judged, side
    is_clear = _is_clear(sides[other], judged, glared=glared)
    matters = is_clear or beware.is_on_both_sides(judged, sides[other])
    may_be_clear = not glared and _may_be_clear(sides[other], judged)
    if not matters and not may_be_clear:
        return found, judged, side
    too, judged_there = there()
    if may_be_clear and _are_many(too, found) and _is_far_out(too, judged_there):
        is_clear = True
    elif not matters:
        return found, judged, side
    comparable = judged_there.bare or not judged.bare
    if comparable and too.kept_px > FAR_MORE * found.kept_px:
        return replace(too, doubtful_px=found.kept_px), judged_there, other
    is_clear = is_clear and _stands_out(too, judged_there, OTHERS_STAND_OUT)
    is_clear = is_clear and (not judged_there.bare or _reaches(too, judged_there))
    if is_clear and too.kept_px > found.kept_px:
        # The smaller may be glints in the larger, or the seam about them.
        found, judged, side, too, judged_there = too, judged_there, other, found, judged
    too = _apart_from(found, too)
    if is_clear and too.kept_px > OTHERS_SHARE * found.kept_px:
        return _together(found, too), judged, side
    return replace(found, doubtful_px=too.kept_px), judged, side


def _is_clear(other: Tail, judged: Tail, *, glared: bool) -> bool:
    """Whether voids of the other side are clear enough to be counted beside those found."""
    if judged.bare and not other.bare:
        return other.has_voids and not glared
    return other.kink >= OTHERS_KINK


def _may_be_clear(other: Tail, judged: Tail) -> bool:
    """Whether voids of the other side may be clear once outlined, where their pixels are not.

    On cloth that is two-tone for either look, and where the weave was taken out of it, what is
    met astray is as many, and stands out.
    """
    is_plain = not any(tail.bare or tail.is_two_tone for tail in (other, judged))
    return other.has_voids and is_plain


def _are_many(too: Found, found: Found) -> bool:
    """Whether there are many voids of the other side, by themselves and beside those found."""
    count, others = (np.count_nonzero(one.kept) for one in (found, too))
    return others >= max(OTHERS_MANY, OTHERS_AS_MANY * count)


def _is_far_out(too: Found, judged: Tail) -> bool:
    """Whether what was outlined on the other side stands out as flanks of folds hardly do."""
    return _stands_out(too, judged, OTHERS_FAR_OUT) and _reaches(too, judged)


def _judged(
    surface: Surface, sides: dict[Look, Tail], side: Look, outlined: OnOutlined | None = None
) -> tuple[Found, Tail]:
    """The voids on a side as the surface itself tells them, and the tail they were told by."""
    judged = sides[side]
    alone, nearly = None, None
    if judged.bare and judged.may_have_voids and not judged.has_voids:
        alone = _lone(surface, side, judged)
        if np.count_nonzero(alone.kept) >= SEVERAL:
            judged, alone = replace(judged, kink=judged.limit), None
    if judged.has_voids:
        # Those of a weak population may not be the last word.
        is_clear = judged.kink >= CLEAR * KINK_LIMIT
        found = find_voids(surface, side, judged, outlined=outlined if is_clear else None)
        if judged.bare and judged.threshold < judged.careful and _mostly_large(found, surface):
            # A patch is of many strengths by itself: it says nothing of specks.
            judged = replace(judged, threshold=judged.careful)
            found = find_voids(surface, side, judged)
    else:
        found, nearly = None, _nearly(surface, side, judged)
        if nearly is not None and _is_among_pockets(nearly, surface, side):
            found, nearly = nearly, None
    if found is not None and judged.bare and side == "dark":
        found = without_gaps(found, surface)
    if found is not None and _mostly_struck(found):
        # A hair or a fold may have been what stood out: judge again without it.
        judged = tails_of(surface, side, without=found.struck)[side]
    if found is not None and found.creases is not None:
        found, judged = _beside_creases(found, found.creases, surface, judged, side)
    if found is None or not _stands_out(found, judged):
        before = found
        found = _lone(surface, side, judged) if alone is None else alone
        if judged.bare and side == "dark":
            found = without_gaps(found, surface)
        if before is not None:
            found = replace(
                found,
                turned=before.turned + found.turned,
                struck=before.struck | found.struck,
                veiled=before.veiled,
            )
    if nearly is not None and nearly.kept_px > found.kept_px:
        # What is nearly a population, and was judged one by one, may be one all the same.
        doubtful_px = found.doubtful_px + nearly.kept_px - found.kept_px
        found = replace(found, doubtful_px=doubtful_px)
    if judged.bare and found.kept.any():
        found = replace(found, hidden=hidden_voids(surface, found.kept_at, judged.threshold))
    return found, judged


def _beside_creases(
    found: Found, creases: Creases, surface: Surface, judged: Tail, side: Look
) -> tuple[Found, Tail]:
    """What was found, and the tail it was told by, if the surface beside creases has no voids.

    More of a crease stands out than is told as its flank, and makes a population as voids do. If
    nothing else speaks for any, there are none on it but what would stand out by itself.
    """
    about = creases.about(found.mask.shape)
    others = flanks_of(surface, -creases.sign)
    if others is not None:
        about |= others.about(found.mask.shape)
    without = found.struck | about
    if np.count_nonzero(surface.inspected & ~without) < LEAST_BESIDE * surface.inspected_px:
        return found, judged
    rest = tails_of(surface, side, without=without)[side]
    if rest.has_voids:
        return found, judged
    shapes, least = found.shapes, as_share(rest.lone, dark=side == "dark")
    inside = np.bincount(shapes.label, about.ravel()[shapes.at], len(found.area)) > 0
    found = found.without(inside & (found.height < least), judging.SOFT)
    return found, replace(judged, kink=min(judged.kink, rest.kink))


def _nearly(surface: Surface, side: Look, judged: Tail) -> Found | None:
    """The voids of what is nearly a population, if it may be one.

    Dark ones alone: glare and the crests of folds are as bright. Nor where light tows lie among
    dark ones: beside pockets of resin it is these that are a population.
    """
    is_unsure = judged.bare or judged.is_two_tone
    if side == "bright" or is_unsure or not judged.may_have_voids:
        return None
    return find_voids(surface, side, judged)


def _is_among_pockets(found: Found, surface: Surface, side: Look) -> bool:
    """Whether only pockets of resin keep voids from being a population by themselves."""
    if not any(one.why == judging.POCKET for one in found.turned):
        return False
    return tails_of(surface, side, without=found.struck)[side].has_voids


def _mostly_large(found: Found, surface: Surface) -> bool:
    """Whether most of the area of what was found is in large voids, as patches are."""
    area = found.area[found.kept]
    large = area > faint.LARGE_MM2 * surface.px_per_mm**2
    return float(area[large].sum()) > 0.5 * float(area.sum())


def _mostly_struck(found: Found) -> bool:
    """Whether more of what was found was turned down, with its surroundings, than kept."""
    return np.count_nonzero(found.struck) > 0.5 * found.kept_px


def _stands_out(found: Found, judged: Tail, times: float | None = None) -> bool:
    """Whether what was found differs so much more from the surface than that from itself."""
    if not found.kept.any():
        return True
    height = judging.middle_height(found.height[found.kept], found.area[found.kept])
    if times is None:
        times = STANDS_OUT if judged.has_voids else STANDS_FAR_OUT
    if found.look == "dark" and judged.is_two_tone:
        # No void is darker than black: how far it is from the surface, and the surface from
        # itself, are compared as ratios of light.
        return float(as_contrast(height, dark=True)) >= times * judged.reach
    return height >= times * reach_of(found.look, judged)


def _reaches(found: Found, judged: Tail) -> bool:
    """Whether the middle of what was found stands out as far as was asked of its pixels."""
    height = judging.middle_height(found.height[found.kept], found.area[found.kept])
    contrast = as_contrast(np.float64(height), dark=found.look == "dark")
    return float(contrast) >= judged.threshold


def _lone(surface: Surface, side: Look, judged: Tail) -> Found:
    """A few voids too small a share of the surface to show as a population of their own.

    Only what stands far out of the surface, is several pixels across and neither long (a
    hair, a scratch) nor soft is taken for one.
    """
    return find_voids(surface, side, replace(judged, threshold=judged.lone), alone=True)


def _apart_from(found: Found, too: Found) -> Found:
    """The voids of the other side, without what lies in the voids found or at their outlines."""
    near, shapes = found.about_kept(SEAM_PX).ravel(), too.shapes
    touching = np.bincount(shapes.label, near[shapes.at], len(shapes.area)) > 0
    return replace(too, kept=too.kept & ~touching)


def _together(found: Found, too: Found) -> Found:
    """Voids of both sides as one finding, told by the side of the first."""
    names = ("area", "kept", "height", "unsure_px", "barely")
    return replace(
        found,
        mask=found.mask | too.mask,
        shapes=one_after_the_other(found.shapes, too.shapes),
        turned=found.turned + too.turned,
        struck=found.struck | too.struck,
        doubtful_px=found.doubtful_px + too.doubtful_px,
        is_both=True,
        **{n: np.concatenate([getattr(found, n), getattr(too, n)]) for n in names},
    )
