"""What cloth is like at each place, by the same tow further on.

Where light tows lie among dark ones, what is dark may be a tow, a gap or a void. Gaps and edges
go on along a tow, and come up again with the weave; voids do not.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import for_each, in_two
from defectlog.measure.arrays.light import GreyImage, RatioImage, inverse_of
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.arrays.threshold import PLACES
from defectlog.measure.cloth.following import Places, Step, steps_along
from defectlog.measure.cloth.small_cloth import SmallCloth
from defectlog.measure.cloth.squares import middles
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.tows import TowRepeats

# Places that are compared lie at least so far apart: a patch is wider than a repeat.
APART_MM = 4.0
# In pixels: about so large are the cells that say where they lie.
STEP_PX = 16
TIMES = tuple(range(1, PLACES // 2 + 1))  # forwards and backwards
# Cloth is compared in squares of so many pixels along a side: lens and smoothing leave nothing
# finer. Of a large picture, in larger ones where a pitch has enough of them for its edges: on sharp
# pictures voids then have to be an eighth stronger, and it takes half the time.
EVERY, LARGE_EVERY, EDGES_PX = 2, 3, 20.0
# Rows that are looked up at a time: where to, and what is there, stays in the cache.
ROWS = 128


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """What the cloth is like square by square, for voids of one look; for bright ones all inverse.

    ``own`` is their own light, ``cloth`` that of the cloth by the darker of both families of
    tows, ``nearer`` by the one that is nearer to what is there; ``few`` is not 0 where fewer
    than two places of one family say so, None if that is nowhere.
    """

    own: RatioImage
    cloth: RatioImage
    nearer: RatioImage
    few: GreyImage | None

    def at(self, some: tuple[slice, slice]) -> "Cloth":
        """Some of the squares."""
        few = None if self.few is None else np.ascontiguousarray(self.few[some])
        lights = (np.ascontiguousarray(one[some]) for one in (self.own, self.cloth, self.nearer))
        return Cloth(*lights, few)


def compared_every(surface: Surface, pitch: float) -> int:
    """Along the side of a square of so many pixels a cloth is compared once.

    Parameters
    ----------
    surface : evenly lit
    pitch : from one tow to the next, in pixels
    """
    return LARGE_EVERY if surface.is_large and pitch >= EDGES_PX else EVERY


def places_along(
    surface: Surface, repeats: TowRepeats, *, every: int, roughly: bool = False
) -> Places | None:
    """Which places of a cloth to compare; None where its tows can't be followed.

    Parameters
    ----------
    surface : evenly lit
    repeats : of its weave
    every : that ``cloth_at`` may be asked for pixels of
    roughly : whether they need not be met as nearly as they can be
    """
    cloth = SmallCloth.of(surface.smooth, surface.inspected, repeats.nearest, roughly=roughly)
    if cloth is None:
        return None

    def along(way: FloatArray) -> tuple[Step, ...] | None:
        apart = max(1, math.ceil(APART_MM * surface.px_per_mm / math.hypot(*way)))
        least = math.lcm(every, 2)
        cell = least * max(1, round(STEP_PX / least))
        times = tuple(apart * k for k in TIMES)
        return steps_along(cloth, way, times, cell_px=cell, roughly=roughly)

    one, other = in_two(along, *repeats.ways)
    return None if one is None or other is None else (one, other)


def cloth_at(
    surface: Surface,
    light: RatioImage,
    places: Places,
    looks: Iterable[Look],
    *,
    every: int,
) -> dict[Look, Cloth]:
    """Compare a cloth with other places of its own tows.

    Parameters
    ----------
    surface : evenly lit
    light : of it, 0 where it is not inspected and says nothing
    places : of the same cloth
    looks : of the voids that are looked for
    every : of squares of so many pixels along a side, the middle alone, as ``compared_every`` says

    Notes
    -----
    By either family of tows the cloth is as the second brightest of six places, as some of them
    may be void; for bright voids as the second darkest. A gap is dark by one family alone: the
    darker of the two counts.
    """
    looks = tuple(looks)
    own = middles(surface.smooth, every)

    def by(family: tuple[Step, ...]) -> list[tuple[RatioImage, GreyImage | None]]:
        return _seconds(light, family, looks, every)

    families = [dict(zip(looks, told, strict=True)) for told in in_two(by, *places)]

    def told(look: Look) -> Cloth:
        own_light = own if look == "dark" else inverse_of(own)
        return _by_either(own_light, *(family[look] for family in families))

    return for_each(told, looks)


def _seconds(
    light: RatioImage, family: tuple[Step, ...], looks: tuple[Look, ...], every: int
) -> list[tuple[RatioImage, GreyImage | None]]:
    """For each look the second of the places compared with each place, and where there are fewer.

    Of one place alone it is that one's light, of none 0.
    """
    rows = len(light)
    parts = [
        _most(light, family, looks, slice(top, min(top + every * ROWS, rows)), every)
        for top in range(0, rows - (every - 1) // 2, every * ROWS)
    ]
    seen = []
    for look, *most in zip(looks, *parts, strict=True):
        first, second = most[0] if len(most) == 1 else np.concatenate(most, axis=1)
        few = None
        if cv2.countNonZero(second) < second.size:
            few = cv2.compare(second, 0, cv2.CMP_EQ)
            cv2.copyTo(first, few, dst=second)
        if look == "bright":
            second = inverse_of(np.negative(second))
            if few is not None:
                second[first == 0] = 0
        seen.append((second, few))
    return seen


def _most(
    light: RatioImage,
    family: tuple[Step, ...],
    looks: tuple[Look, ...],
    rows: slice,
    every: int,
) -> list[NDArray[np.uint16]]:
    """For each look the most and the second most of the places compared, one above the other.

    For bright ones of less than nothing, which is the most there can be: 0 stays 0, and dark
    becomes bright.
    """
    most: list[NDArray[np.uint16]] = []
    for step in family:
        down, across = step.over(rows, light.shape[1], every=every)
        # What lies outside, or is not inspected, is 0: no light to go by.
        there = cv2.remap(light, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        most = most or [np.zeros((2, *there.shape), np.uint16) for _ in looks]
        for look, (first, second) in zip(looks, most, strict=True):
            one = there if look == "dark" else np.negative(there)
            cv2.max(second, cv2.min(first, one), dst=second)
            cv2.max(first, one, dst=first)
    return most


def _by_either(
    own: RatioImage,
    one: tuple[RatioImage, GreyImage | None],
    other: tuple[RatioImage, GreyImage | None],
) -> Cloth:
    """The cloth by both families. Where one says nothing, the other does; where neither, own."""
    (one, few), (other, fewer) = one, other
    if few is not None or fewer is not None:
        nothing, neither = (cv2.compare(light, 0, cv2.CMP_EQ) for light in (one, other))
        if cv2.hasNonZero(nothing) or cv2.hasNonZero(neither):
            one, other = (
                cv2.copyTo(other, nothing, one.copy()),
                cv2.copyTo(one, neither, other.copy()),
            )
            nothing &= neither
            one, other = (cv2.copyTo(own, nothing, light) for light in (one, other))
        few = fewer if few is None else few if fewer is None else few | fewer
    is_one = cv2.compare(cv2.absdiff(own, one), cv2.absdiff(own, other), cv2.CMP_LT)
    return Cloth(own, cv2.min(one, other), cv2.copyTo(one, is_one, other.copy()), few)
