"""Voids as faint as the tones of their cloth: told by what lies close by, or without its weave."""

from dataclasses import replace

import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.comes_again import comes_again
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.grooves import in_grooves
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.unweave import FAINT_SWING, LITTLE_SWING, Unwoven, unwoven
from defectlog.measure.outlines import judging
from defectlog.measure.search.both_sides import Sides, bare_sides
from defectlog.measure.search.by_edges import may_be_by_edges
from defectlog.measure.search.close_by import found_close_by, is_next_to_nothing
from defectlog.measure.search.either_side import on_either_side

# Without its weave, of sound cloth of about one tone edges of tows are left: up to 0.0014 of it,
# where of many voids as faint as these 0.01 and more is found; measured on rendered surfaces.
LEAST_BARE = 0.004
# The half of voids that lies on tows darker than they are is a population by itself: so many times
# as many are found where it is not all.
MORE = 1.25
# Of voids that are faint enough to be told so, six tenths of the area and more lie beyond what is
# asked of a pixel; measured on rendered surfaces.
SHOWN = 0.5
# Light of a void goes so far beyond its outline.
BESIDE_PX = 4


def fainter(
    sides: Sides, before: tuple[Found, Tail, Look], beside: BoolImage | None
) -> tuple[Sides, tuple[Found, Tail, Look]]:
    """Voids as faint as the tones of cloth, if they are told in some way; else what was before.

    Parameters
    ----------
    sides : the surface that voids were looked for on, and its tails
    before : the voids found, the tail they were told by, and the side they are on
    beside : (M, N) bool, what has no say in what the surface is like, if anything
    """
    surface, tails, found = sides.surface, sides.tails, before[0]
    closer, is_close_by = None, _are_close_by(sides, before)
    if is_close_by:
        closer = found_close_by(surface, tails, found, without=beside)
    if closer is not None and not comes_again(closer[0].drawn(closer[0].kept), surface):
        return sides, closer
    told = _without_weave(sides, before, beside) if _may_be_hidden(sides, before) else None
    if told is not None:
        return told
    if is_close_by and closer is None and _swing(sides) < FAINT_SWING:
        found = replace(found, may_be=may_be_by_edges(surface, tails, found))
    return sides, (found, *before[1:])


def are_looked_for(sides: Sides, before: tuple[Found, Tail, Look]) -> bool:
    """Whether there may be any, for all that the surface as a whole tells."""
    return _are_close_by(sides, before) or _may_be_hidden(sides, before)


def _are_close_by(sides: Sides, before: tuple[Found, Tail, Look]) -> bool:
    """Whether what is close by may tell them: little was found, on cloth with its weave."""
    is_little = is_next_to_nothing(before[0], before[1], sides.surface)
    return is_little and not any(tail.bare for tail in sides.tails.values())


def _may_be_hidden(sides: Sides, before: tuple[Found, Tail, Look]) -> bool:
    """Whether the weave may hide them, and was not taken out yet."""
    found, judged, _ = before
    is_bare = judged.bare if found.kept.any() else all(tail.bare for tail in sides.tails.values())
    is_little = is_next_to_nothing(found, judged, sides.surface)
    return not is_bare and _swing(sides) >= (LITTLE_SWING if is_little else FAINT_SWING)


def _swing(sides: Sides) -> float:
    return max(tail.swing for tail in sides.tails.values())


def _without_weave(
    sides: Sides, before: tuple[Found, Tail, Look], beside: BoolImage | None
) -> tuple[Sides, tuple[Found, Tail, Look]] | None:
    """Voids as faint as the tones of cloth, without its weave; None where that shows no more.

    As many may lie unseen: a void that a repeat of the weave leads from one to another, for one.
    Where it shows a little more, that may be void besides what was before. Of bright voids no less
    is enough: where cloth shows through, what of them lies on its dark tows is less than halfway
    as bright as the rest, and reaches as far to the cloth's own light.
    """
    surface, (found, _, side) = sides.surface, before
    weave = _hiding_weave(sides, found, side, beside)
    if weave is None:
        return None
    without = bare_sides(surface, sides.tails, weave, beside)
    told, judged, side_told = on_either_side(without.surface_for, without.tails, without.first)
    if weave.swing < FAINT_SWING:
        told = _without_grooves(told, surface)
    share = told.kept_px / surface.inspected_px
    if not judged.bare or share < LEAST_BARE:
        return None
    more_px = told.kept_px - found.kept_px
    if told.kept_px >= MORE * found.kept_px:
        told = replace(told, fainter=True, hidden=max(told.hidden, share))
        return without, (told, judged, side_told)
    if side_told != side or more_px < 0:
        return None
    if side == "bright":
        return without, (told, judged, side)
    if not more_px:
        return None
    # So little more may be of the cloth: it is not counted, and may be void.
    found = replace(found, doubtful_px=found.doubtful_px + more_px)
    return sides, (found, *before[1:])


def _hiding_weave(
    sides: Sides, found: Found, side: Look, beside: BoolImage | None
) -> Unwoven | None:
    """The weave, to be taken out for the looks that it may hide faint voids of."""
    surface, is_found = sides.surface, found.kept.any()
    # What is bright and found is told better without the weave, be it no more.
    few = surface.is_large and (side == "dark" or not is_found)
    tails = {side: sides.tails[side]} if few and is_found else sides.tails
    weave = unwoven(surface, tails, faint=True, few=few)
    if weave is None or not weave.is_few:
        return weave
    return weave.closely(*_may_show_more(weave, found, beside))


def _without_grooves(found: Found, surface: Surface) -> Found:
    """Without what shows of the grooves of a core, which no weave repeats."""
    kept, grooves = np.flatnonzero(found.kept), np.zeros_like(found.kept)
    shape = found.mask.shape
    grooves[kept] = in_grooves(found.shapes, kept, shape, px_per_mm=surface.px_per_mm)
    return found.without(grooves, judging.POCKET)


def _may_show_more(weave: Unwoven, found: Found, beside: BoolImage | None) -> list[Look]:
    """The looks there may be enough voids of beside those found, by a few squares of bare cloth."""
    known, share = beside, found.kept_px / weave.surface.inspected_px
    if found.kept.any():
        known = found.about_kept(BESIDE_PX)
        known = known if beside is None else known | beside
    least = SHOWN * max(LEAST_BARE - share, (MORE - 1) * share)
    looks = []
    for look in weave.told:
        squares, without = weave.in_squares(look, known)
        rest = tails_of(squares, look, without=without)[look]
        if rest.may_have_voids:
            # Those of bright voids are told by the inverse of light, as if they were dark.
            shown = beyond(squares, 1.0, rest.threshold)
            if without is not None:
                shown &= ~without
            if np.count_nonzero(shown) >= least * squares.inspected_px:
                looks.append(look)
    return looks
