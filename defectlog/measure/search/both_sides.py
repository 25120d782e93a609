"""What to look for dark voids on and what for bright ones, and how light goes to either side."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from defectlog.measure.arrays.halves import for_each
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import TWO_TONE, Tail
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.sides import side_of, tails_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.unweave import Unwoven, unwoven

# Of how far light tows go beyond the middle, what stays unsure once the weave is taken out.
STAYS = 0.3


@dataclass(frozen=True, slots=True)
class Sides:
    """What to look for voids of either look on, their tails, and which of them speaks for voids.

    ``surface`` is as it was, those of ``surface_for`` less what hides voids once the weave is taken
    out, and ``inspected`` is what of them is; ``swing`` is how far the cloth goes by itself for
    either, in log units of light.
    """

    surface: Surface
    surface_for: Callable[[Look], Surface]
    inspected: dict[Look, BoolImage]
    tails: dict[Look, Tail]
    first: Look
    swing: dict[Look, float]
    _seen: dict[Look, Surface] = field(default_factory=dict, init=False, repr=False, compare=False)

    def seen_for(self, side: Look) -> Surface:
        """The surface as it was inspected for voids of a look."""
        inspected = self.inspected[side]
        if inspected is self.surface.inspected:
            return self.surface
        if side not in self._seen:
            self._seen[side] = self.surface.within(inspected)
        return self._seen[side]

    def inspected_for(self, found: Found, side: Look) -> Surface:
        """The surface as it was inspected for the voids found; if none were, for either look."""
        masks = list(self.inspected.values())
        if all(mask is self.surface.inspected for mask in masks):
            return self.surface
        if found.kept.any() and not found.is_both:
            return self.seen_for(side)
        joined = np.logical_or if found.is_both else np.logical_and
        return self.surface.within(joined.reduce(masks))


def both_sides(
    surface: Surface, look: Literal["auto", "dark", "bright"], beside: BoolImage | None
) -> Sides:
    """Both sides, or the one asked for; without the weave where that hides them."""
    tails = tails_of(surface, look, without=beside)
    weave = unwoven(surface, tails)
    if weave is not None:
        return bare_sides(surface, tails, weave, beside)
    swing = max(tail.reach for tail in tails.values())
    inspected = dict.fromkeys(tails, surface.inspected)
    swings = dict.fromkeys(tails, swing)
    return Sides(surface, lambda _: surface, inspected, tails, side_of(tails), swings)


def bare_sides(
    surface: Surface, tails: dict[Look, Tail], weave: Unwoven, beside: BoolImage | None
) -> Sides:
    """Both sides of a surface whose weave is taken out for some look."""
    first = side_of(tails)
    # What glare lifts above the cloth looks like bright voids where that was not taken out.
    plain = weave.clear.of("dark", surface)
    told, made = _bare_tails(tails, weave, first, beside)
    # Other places of a cloth with bright voids make it look darker than it is; dyed yarn is gone.
    if not (tails[first].has_voids and (first == "dark" or told[first].has_voids)):
        first = side_of(told)

    def surface_for(look: Look) -> Surface:
        if look in weave.told and look not in made:
            made.update(weave.bare(look))
        return made.get(look, plain)

    swings = {name: TWO_TONE + STAYS * tails[name].reach for name in weave.told}
    usual = next(iter(swings.values()))
    return Sides(
        surface,
        surface_for,
        {name: weave.clear.of(name, plain).inspected for name in tails},
        told,
        first,
        dict.fromkeys(tails, usual) | swings,
    )


def _bare_tails(
    tails: dict[Look, Tail], weave: Unwoven, first: Look, beside: BoolImage | None
) -> tuple[dict[Look, Tail], dict[Look, Surface]]:
    """Tails, without the weave where that hides voids, and the surfaces made to tell them.

    Where voids of one look show as they are, and without the weave, those of the other are few: by
    the middles of squares it is told whether there may be any, and only then by all pixels.
    """
    told, made = tails, {}
    others = [look for look in weave.told if look != first]
    if others and first in weave.told and tails[first].has_voids:
        made = weave.bare(first)
        told = tails | tails_of(made[first], first, without=beside)
        if told[first].has_voids:
            few = {}
            for look in others:
                squares, without = weave.in_squares(look, beside)
                few |= tails_of(squares, look, without=without)
            if not any(tail.may_have_voids for tail in few.values()):
                return told | few, made
    rest = [look for look in weave.told if look not in made]
    made |= weave.bare(*rest)
    told = told | for_each(lambda look: tails_of(made[look], look, without=beside)[look], rest)
    return told, made
