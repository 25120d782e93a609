"""Voids as the surface itself tells them, with nothing set by hand."""

from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import cv2
import numpy as np

from defectlog.measure.arrays.halves import begun
from defectlog.measure.arrays.light import BoolImage, GreyImage, as_share
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.comes_again import comes_again
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.grooves import in_grooves
from defectlog.measure.candidates.hiding_yarns import beware_of_yarns
from defectlog.measure.candidates.seeds import beyond, hidden_px
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.unweave import FAINT_SWING, LITTLE_SWING, Unwoven, unwoven
from defectlog.measure.cloth.weave_direction import weave_direction
from defectlog.measure.figures import beware
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.figures.rim import Rim
from defectlog.measure.figures.summary import full_size
from defectlog.measure.outlines import judging
from defectlog.measure.patches.patches import Patch, find_patches
from defectlog.measure.search.both_sides import Sides, bare_sides, both_sides
from defectlog.measure.search.by_edges import beware_of_faint_ones, may_be_by_edges
from defectlog.measure.search.close_by import (
    beware_of_close_by,
    found_close_by,
    is_next_to_nothing,
)
from defectlog.measure.search.crumbs import crumbs_of, weak_ones, without_crumbs
from defectlog.measure.search.either_side import on_either_side
from defectlog.measure.search.joining import small_voids, with_patches
from defectlog.measure.search.splinters import with_splinters

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


@dataclass(frozen=True, slots=True)
class About:
    """What a picture says whether or not there are voids: how its tows run, what to beware of."""

    weave_deg: float | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sought:
    """The voids that were found, and what speaks for and against them.

    ``surface`` is what was inspected; ``tails`` those of the sides they were looked for on,
    ``side`` the one they are on and ``judged`` the tail they were told by; ``patches`` are those
    of the cloth that were counted or may be void, ``hidden_px`` the area of what may be voids
    among dark tows, in worked pixels.
    """

    surface: Surface
    found: Found
    side: Look
    judged: Tail
    tails: dict[Look, Tail]
    patches: tuple[Patch, ...]
    hidden_px: float
    about: About

    def beware_of(
        self, measured: VoidMeasurement, px_per_mm: float | None, *, outlined: bool
    ) -> list[str]:
        """What makes the figure doubtful, in words; ``outlined`` is whether a region was given."""
        surface = self.surface
        other = next((tail for name, tail in self.tails.items() if name != self.side), None)
        return [
            *beware.of_finding(
                self.judged,
                other,
                self.found.blur_px,
                found=measured.count > 0,
                both=self.found.is_both,
                shrink=surface.shrink,
                outlined=outlined,
            ),
            *beware.of_sharpening(self.found.seam if measured.count else 0.0),
            *beware_of_close_by(self.found),
            *beware.of_hidden(self.hidden_px / surface.inspected_px),
            *(
                []
                if self.found.close_by
                else beware.of_cloth_that_hides(self.found.hidden, self.found.look)
            ),
            *beware_of_yarns(self.found, surface),
            *beware.of_patches(self.patches, px_per_mm, surface),
            *beware.of_turned(
                self.found.turned,
                sum(void.area_px for void in measured.voids),
                measured.inspected_px,
                shrink=surface.shrink,
            ),
            *beware_of_faint_ones(self.found.may_be),
            *(
                beware.of_faint(self.tails)
                if is_next_to_nothing(self.found, self.judged, surface)
                else []
            ),
        ]


def seek(
    grey: GreyImage,
    surface: Surface,
    look: Literal["auto", "dark", "bright"],
    rim: Rim | None = None,
) -> Sought:
    """Find the voids of a surface: single ones, patches of its cloth, and what is beside these.

    Parameters
    ----------
    grey : (M, N) uint8, the picture
    surface : its surface
    look : whether voids are darker or brighter than the surface; ``"auto"`` finds out
    rim : what along the edge of the region has no say in what the surface is like, if anything
    """
    beside = None if rim is None else rim.band
    about = begun(partial(about_picture, grey, surface))
    sides = both_sides(surface, look, beside)
    found, judged, side = on_either_side(sides.surface_for, sides.tails, sides.first)
    sides, (found, judged, side) = _fainter(sides, (found, judged, side), beside)
    seen = sides.inspected_for(found, side)
    for lost in (found.veiled, found.dyed):
        if lost is not None and found.kept.any():
            # Voids were told on the rest alone.
            seen = seen.within(~lost)
    hidden = 0.0
    if not found.kept.any() and "dark" in sides.tails:
        hidden = hidden_px(seen, sides.tails["dark"])
    patches = find_patches(seen, small_voids(found, seen))
    found, patches = with_patches(found, seen, patches, look=look)
    if not found.is_both:
        found = _without_crumbs(found, sides.surface_for(side), side)
        if not judged.bare:
            found = with_splinters(found, seen, patches)
    # Of a surface on which voids were found, the side they are on is theirs as well.
    is_theirs = found.kept.any() and not judged.bare
    if rim is not None:
        found = _with_rim(found, rim)
    found = replace(
        found,
        swing=judged.reach if is_theirs else sides.swing[side],
        doubtful_px=found.doubtful_px + hidden,
    )
    return Sought(seen, found, side, judged, sides.tails, patches, hidden, about())


def _with_rim(found: Found, rim: Rim) -> Found:
    """What lies along the edge of the region may be void or not, whether it is counted or not."""
    not_counted = np.count_nonzero(rim.beyond & ~found.drawn(found.kept))
    there = np.zeros_like(found.kept)
    there[found.shapes.label[rim.beyond.ravel()[found.shapes.at]]] = True
    return replace(
        found,
        doubtful_px=found.doubtful_px + not_counted,
        at_rim_px=float(found.area[found.kept & there].sum()),
    )


def about_picture(grey: GreyImage, surface: Surface) -> About:
    weave_deg = weave_direction(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm)
    return About(
        weave_deg, tuple(beware.of_picture(grey, full_size(surface.inspected, grey.shape)))
    )


def _fainter(
    sides: Sides, before: tuple[Found, Tail, Look], beside: BoolImage | None
) -> tuple[Sides, tuple[Found, Tail, Look]]:
    """Voids as faint as the tones of cloth, if they are told in some way; else what was before."""
    surface, tails, (found, judged, _) = sides.surface, sides.tails, before
    closer = None
    is_little = is_next_to_nothing(found, judged, surface)
    may_be_closer = is_little and not any(tail.bare for tail in tails.values())
    if may_be_closer:
        closer = found_close_by(surface, tails, found, without=beside)
    if closer is not None and not comes_again(closer[0].drawn(closer[0].kept), surface):
        return sides, closer
    swing = max(tail.swing for tail in tails.values())
    asked = LITTLE_SWING if is_little else FAINT_SWING
    fainter = _without_weave(sides, before, beside) if swing >= asked else None
    if fainter is not None:
        return fainter
    if may_be_closer and closer is None and swing < FAINT_SWING:
        found = replace(found, may_be=may_be_by_edges(surface, tails, found))
    return sides, (found, *before[1:])


def _without_weave(
    sides: Sides, before: tuple[Found, Tail, Look], beside: BoolImage | None
) -> tuple[Sides, tuple[Found, Tail, Look]] | None:
    """Voids as faint as the tones of cloth, without its weave; None where that shows few more.

    As many may lie unseen: a void that a repeat of the weave leads from one to another, for one.
    Of bright voids no less is enough: where cloth shows through, what of them lies on its dark
    tows is less than halfway as bright as the rest, and reaches as far to the cloth's own light.
    """
    surface, (found, judged, side) = sides.surface, before
    is_told = judged.bare if found.kept.any() else all(tail.bare for tail in sides.tails.values())
    if is_told:
        return None
    # What is bright and found is told better without the weave, be it no more.
    few = surface.is_large and (side == "dark" or not found.kept.any())
    tails = {side: sides.tails[side]} if few and found.kept.any() else sides.tails
    weave = unwoven(surface, tails, faint=True, few=few)
    if weave is not None and weave.is_few:
        weave = weave.closely(*_may_show_more(weave, found, beside))
    if weave is None:
        return None
    without = bare_sides(surface, sides.tails, weave, beside)
    told, judged, side = on_either_side(without.surface_for, without.tails, without.first)
    if weave.swing < FAINT_SWING:
        told = _without_grooves(told, surface)
    share = told.kept_px / surface.inspected_px
    if not judged.bare or share < LEAST_BARE:
        return None
    more_px = told.kept_px - found.kept_px
    if told.kept_px >= MORE * found.kept_px:
        told = replace(told, fainter=True, hidden=max(told.hidden, share))
    elif side != "bright" or before[2] != side or more_px < 0:
        if side != before[2] or more_px <= 0:
            return None
        # So little more may be of the cloth: it is not counted, and may be void.
        found = replace(found, doubtful_px=found.doubtful_px + more_px)
        return sides, (found, *before[1:])
    return without, (told, judged, side)


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
        about = np.ones((2 * BESIDE_PX + 1,) * 2, np.uint8)
        known = cv2.dilate(found.drawn(found.kept).view(np.uint8), about).view(bool)
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


def _without_crumbs(found: Found, surface: Surface, side: Look) -> Found:
    """Without the specks that nothing speaks for once a few large or strong voids are left out."""
    for crumbs in (crumbs_of(found, surface), weak_ones(found)):
        if crumbs is None:
            continue
        specks, about = crumbs
        rest = tails_of(surface, side, without=about)[side]
        if not rest.has_voids:
            found = without_crumbs(found, specks, as_share(rest.lone, dark=side == "dark"))
    return found
