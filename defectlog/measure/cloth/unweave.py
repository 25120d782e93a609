"""A surface without its own weave, on which voids show as on an even one."""

import math
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np

from defectlog.measure.arrays.halves import begun, for_each
from defectlog.measure.arrays.light import BoolImage, RatioImage, log_of
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.cloth.clear_of_glare import Clear, clear_of_glare
from defectlog.measure.cloth.following import Places
from defectlog.measure.cloth.likeness import Likeness, likeness, middle_and_spread
from defectlog.measure.cloth.same_tow import Cloth, cloth_at, compared_every, places_along
from defectlog.measure.cloth.squares import at_half, in_middles
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.to_cloth import lit, squares_to_cloth, to_cloth
from defectlog.measure.cloth.tows import TowRepeats, tow_repeats

# Where light tows go so far beyond the middle, in log units of light, and all of it lies so far
# from it, dark voids may be no darker than tows and gaps; and where dark tows do, bright voids no
# brighter.
MAY_HIDE_DARK, MAY_HIDE_BRIGHT, SWING = 0.24, 0.3, 0.2
# Voids that are fainter than that may be hidden by cloth that swings less, and all of them by cloth
# that swings less still. Edges of its tows, met astray, stand out by less as well: by so many times
# what it swings.
FAINT_SWING, LITTLE_SWING, EDGES = 0.12, 0.08, 1.25
# Nine tenths of half of a normal spread lie within so many deviations.
WITHIN = 1.645
# Of a large picture the middles of squares of so many pixels say whether there may be voids at all.
# Places of these are met less nearly, which leaves up to a tenth more of the cloth.
FEW_EVERY, ROUGHLY = 6, 1.2
# Cloth that was told right leaves no more than this of its swing; and seldom more than that of
# its light, if what repeats is not half of a repeat.
LEFT, UNCLEAR = 0.5, 0.15
SAMPLED = 9  # of so many pixels one along a side, for how far the cloth swings


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """Cloth as its own tows tell it, in squares of ``every`` pixels, and how far they do.

    Its places may be met only ``roughly``.
    """

    places: Places
    roughly: bool
    every: int
    cloths: dict[Look, Cloth]
    likes: dict[Look, Likeness]

    @property
    def left(self) -> float:
        """The most that is left of it for any look."""
        return max((like.left for like in self.likes.values()), default=np.inf)

    def lit(self, look: Look) -> Cloth:
        """The cloth in the light of its folds."""
        return lit(self.cloths[look], self.likes[look], self.every)


@dataclass(frozen=True, slots=True, eq=False)
class Unwoven:
    """A surface whose weave can be taken out of it, for voids of the looks that it may hide.

    ``clear`` is what of the surface can be inspected for either, ``told`` its cloth;
    ``repeats`` are those of its tows, and ``swing`` is how far all of it lies from the middle, in
    log units of light. ``is_few`` is whether only a few squares are told.
    """

    surface: Surface
    clear: Clear
    told: dict[Look, Told]
    repeats: TowRepeats
    swing: float
    is_few: bool = False

    def closely(self, *looks: Look) -> "Unwoven | None":
        """The same for some looks from all squares, where only a few were told; None of none."""
        told = self.anew(*looks)
        if not told:
            return None
        return replace(self, clear=self.clear.only(told), told=told, is_few=False)

    def anew(self, *looks: Look) -> dict[Look, Told]:
        """Cloth by all squares that are clear for some looks, for those that it is told for."""
        if not looks:
            return {}
        surface = self.clear.of(looks[0])
        if len(looks) > 1 and surface is not self.surface:
            # Gaps that are lit up by glare are lost for all looks.
            clear = [self.clear.of(look).inspected for look in looks]
            surface = self.surface.within(np.logical_or.reduce(clear))
        before = self.told[looks[0]]
        # On a large surface the ways along the tows hang little on what glare hides.
        places = before.places if self.is_few and not before.roughly else None
        told = _told(surface, self.repeats, list(looks), self.swing, places=places)
        return {} if told is None else dict.fromkeys(told.likes, told)

    def bare(self, *looks: Look) -> dict[Look, Surface]:
        """The surface without its weave, for some of the looks.

        ``smooth`` is then the light to that of the cloth, ``expected`` the cloth's own at half the
        size and ``least`` what it is compared with, a quarter of that. For bright voids all its
        light is inverse: they are dark on it. Where only a few squares were told, all are if they
        can be.
        """
        cloth = self.told | (self.anew(*looks) if self.is_few else {})
        lights = for_each(lambda look: cloth[look].lit(look), looks)

        def halved(look: Look) -> RatioImage:
            return at_half(lights[look].cloth, cloth[look].every, self.surface.smooth.shape)

        bare = {}
        for look in looks:
            surface, told = self.clear.of(look), cloth[look]
            half = begun(partial(halved, look))
            smooth, least = to_cloth(
                surface, lights[look], told.likes[look], look, told.every, self.repeats.pitch
            )
            bare[look] = replace(
                surface,
                smooth=smooth,
                expected=half(),
                least=least,
                places=told.places,
                is_inverse=look == "bright",
            )
        return bare

    def in_squares(self, look: Look, without: BoolImage | None) -> tuple[Surface, BoolImage | None]:
        """As ``bare`` for one look, by the middles of squares alone; and some mask by these."""
        told = self.told[look]
        cloth, inspected = told.lit(look), self.clear.in_middles(look, told.every)
        few = replace(
            self.surface,
            smooth=squares_to_cloth(cloth, told.every),
            inspected=inspected,
            inspected_px=int(np.count_nonzero(inspected)),
            region_px=math.ceil(self.surface.region_px / told.every**2),
            expected=cloth.cloth,
            is_inverse=look == "bright",
        )
        return few, None if without is None else in_middles(without, told.every)


def unwoven(
    surface: Surface, tails: dict[Look, Tail], *, faint: bool = False, few: bool = False
) -> Unwoven | None:
    """Tell the weave of a surface, to take it out for voids of either look that it may hide.

    Parameters
    ----------
    surface : evenly lit
    tails : of its light
    faint : whether voids are looked for that are fainter than the tones of cloth
    few : whether to tell a few squares alone, to see whether there may be voids; of a large surface
        with glare no more is told at first in any case

    Returns
    -------
    Unwoven
        For the looks that the weave hides; None if it hides none, or where cloth can't be told.
    """
    hidden = [look for look in tails if faint or _may_hide(tails, look)]
    least = LITTLE_SWING if faint else SWING
    if not hidden:
        return None
    some = (slice(None, None, SAMPLED),) * 2
    light = log_of(surface.smooth[some][surface.inspected[some]])
    if not len(light):
        return None  # a strip, on which no tows show
    swing = middle_and_spread(light)[1]
    if not faint and swing < SWING and "dark" in hidden and _hides_in_floats(tails["dark"]):
        hidden, swing = ["dark"], tails["dark"].towards / WITHIN
    repeats = tow_repeats(surface) if swing >= least else None
    if repeats is None:
        return None
    # On a large surface a few squares say as well what glare hides; if they say nothing, all do.
    is_few = few or (surface.is_glared and surface.is_large)
    told = _told(surface, repeats, hidden, swing, few=is_few, roughly=few)
    if told is None and is_few and not few:
        is_few, told = False, _told(surface, repeats, hidden, swing)
    if told is None:
        return None
    if swing < SWING:
        surface = replace(surface, astray=EDGES * swing)
    looks = list(told.likes)
    is_clear = not surface.is_glared
    clear = (
        Clear(surface, dict.fromkeys(looks)) if is_clear else clear_of_glare(surface, told.likes)
    )
    weave = Unwoven(surface, clear, dict.fromkeys(looks, told), repeats, swing, is_few)
    if is_few or is_clear:
        return weave
    # Gaps that are lit up by glare do not say what others are like: cloth is told anew, if enough
    # of it is left.
    return replace(weave, told=weave.told | weave.anew(*looks))


def _inspected_light(surface: Surface) -> RatioImage:
    """Light where it is inspected, 0 where not."""
    if surface.is_whole:
        return surface.smooth
    return cv2.copyTo(surface.smooth, surface.inspected.view(np.uint8))


def _may_hide(tails: dict[Look, Tail], look: Look) -> bool:
    """Whether voids of a look may be no further from the middle than tows and gaps are."""
    if look == "dark":
        return tails[look].reach >= MAY_HIDE_DARK or _hides_in_floats(tails[look])
    # Where dark voids alone are clear, what is bright is the cloth: by itself it has less than half
    # of the kink that is asked for bright ones.
    is_dark = not tails[look].may_have_voids and "dark" in tails and tails["dark"].has_voids
    return tails[look].reach >= MAY_HIDE_BRIGHT and not is_dark


def _hides_in_floats(dark: Tail) -> bool:
    """Whether dark voids may be no darker than floats: glass swings by 0.1 beside dense voids."""
    return dark.may_be_floats and dark.swing >= FAINT_SWING


def _told(
    surface: Surface,
    repeats: TowRepeats,
    looks: list[Look],
    swing: float,
    *,
    few: bool = False,
    roughly: bool = False,
    places: Places | None = None,
) -> Told | None:
    """What the cloth is like, for those of some looks that it is told for.

    By a few squares alone, if it is to be; by places that are known, or met roughly.
    """
    best, light = None, _inspected_light(surface)
    every = FEW_EVERY if few else compared_every(surface, repeats.pitch)
    # Warp and weft may look so alike that one was taken for the other.
    for one in (repeats, repeats.doubled()) if places is None else (repeats,):
        met = places or places_along(surface, one, every=every, roughly=roughly)
        if met is None:
            continue
        cloths = cloth_at(surface, light, met, looks, every=every)
        likes = likeness(surface, cloths, pitch=repeats.pitch, every=every)
        tried = Told(met, roughly, every, cloths, likes)
        if best is None or tried.left < best.left:
            best = tried
        if best.left <= UNCLEAR:
            break
    if best is None:
        return None
    most = LEFT * swing * (ROUGHLY if roughly else 1)
    likes = {look: like for look, like in best.likes.items() if like.left <= most}
    return replace(best, likes=likes) if likes else None
