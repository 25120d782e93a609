"""Voids as the surface itself tells them, with nothing set by hand."""

from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from defectlog.measure.arrays.halves import begun
from defectlog.measure.arrays.light import BoolImage, GreyImage, as_share
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.hiding_yarns import beware_of_yarns
from defectlog.measure.candidates.seeds import hidden_px
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave_direction import weave_direction
from defectlog.measure.figures import beware
from defectlog.measure.figures.few_tows import beware_of_few_tows
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.figures.rim import Rim
from defectlog.measure.figures.summary import full_size
from defectlog.measure.patches.patches import Patch, find_patches
from defectlog.measure.search.both_sides import Sides, both_sides
from defectlog.measure.search.by_edges import beware_of_faint_ones
from defectlog.measure.search.close_by import beware_of_close_by, is_next_to_nothing
from defectlog.measure.search.crumbs import crumbs_of, weak_ones, without_crumbs
from defectlog.measure.search.either_side import on_either_side
from defectlog.measure.search.fainter import are_looked_for, fainter
from defectlog.measure.search.joining import small_voids, with_patches
from defectlog.measure.search.splinters import with_splinters


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
            *(beware_of_few_tows(surface) if outlined else []),
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
    patches_of = _Patches(sides)
    told = on_either_side(sides.surface_for, sides.tails, sides.first, patches_of.begin)
    sides, (found, judged, side), (seen, patches) = _with_fainter(sides, told, beside, patches_of)
    hidden = 0.0
    if not found.kept.any() and "dark" in sides.tails:
        hidden = hidden_px(seen, sides.tails["dark"])
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


def _with_fainter(
    sides: Sides, told: tuple[Found, Tail, Look], beside: BoolImage | None, patches_of: "_Patches"
) -> tuple[Sides, tuple[Found, Tail, Look], tuple[Surface, tuple[Patch, ...]]]:
    """What was found, or fainter voids where these are told, with what was seen and its patches."""
    if not are_looked_for(sides, told):
        return sides, told, patches_of.seen(sides, told)
    # That takes long, and mostly shows no more: then patches are what they are beside these.
    early = begun(partial(patches_of.seen, sides, told))
    anew, more = fainter(sides, told, beside)
    is_as_before = anew is sides and more[0].mask is told[0].mask
    return anew, more, early() if is_as_before else patches_of.seen(anew, more)


class _Patches:
    """Patches of a surface, looked for as soon as voids are outlined: mostly it is these."""

    def __init__(self, sides: Sides) -> None:
        self.sides = sides
        self.voids: BoolImage | None = None

    def begin(self, voids: BoolImage, at: IndexArray, label: IndexArray) -> None:
        """Look for them beside voids of the first side, while these are sized and judged."""
        self.surface = self.sides.seen_for(self.sides.first)
        small = small_voids(voids, at, label, self.surface)
        self.voids, self.beside = voids, begun(partial(find_patches, self.surface, small))

    def seen(
        self, sides: Sides, told: tuple[Found, Tail, Look]
    ) -> tuple[Surface, tuple[Patch, ...]]:
        """What was inspected for the voids found, and the patches of it."""
        found, _, side = told
        seen = sides.inspected_for(found, side)
        for lost in (found.veiled, found.dyed):
            if lost is not None and found.kept.any():
                # Voids were told on the rest alone.
                seen = seen.within(~lost)
        if found.mask is self.voids and seen is self.surface:
            return seen, self.beside()
        shapes = found.shapes
        return seen, find_patches(seen, small_voids(found.mask, shapes.at, shapes.label, seen))


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
