"""Where voids may be: pixels beyond a threshold, without what is the cloth's own."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.arrays.halves import begun, by_pieces
from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.pixels import Listed, listed, listed_at
from defectlog.measure.arrays.threshold import TWO_TONE_LIMIT, Tail
from defectlog.measure.candidates.along_yarns import AlongYarns
from defectlog.measure.candidates.hiding_yarns import asked_on, hiding_voids
from defectlog.measure.candidates.nets import of_nets
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.candidates.yarns import Yarns, yarns_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import Vector
from defectlog.measure.cloth.weave_objects import (
    LEAST_REPEATING,
    Objects,
    objects_of,
    repeating,
)
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned

ROWS = 128  # that are looked at at a time
MOSTLY = 0.5  # of an object that is in known dashes, if it is one
# Dyed yarns are tows; what is narrower and in file are the gaps where tows cross (common practice,
# no source).
LEAST_YARN_MM = 0.45
MAY_HIDE = 1.0  # kinks of two-tone carbon that holds no void are below, nearly all


@dataclass(frozen=True, slots=True)
class Seeds:
    """Pixels that voids start from.

    ``known`` are the objects they make, if these had to be listed; ``turned`` is what was taken out
    as the cloth's own; ``repeats`` are those of the weave, where there was enough to ask for them.
    ``hiding`` is where dyed yarn lies that is as dark as voids are: nothing on it is a seed.
    ``along`` is where dyed yarns run, if there are some.
    """

    where: BoolImage
    known: Listed | None
    turned: list[Turned]
    repeats: list[Vector]
    hiding: BoolImage | None = None
    along: AlongYarns | None = None


def seeds_of(
    surface: Surface,
    sign: float,
    judged: Tail,
    dashes: BoolImage | None = None,
    *,
    hides: bool = True,
) -> Seeds:
    """Pixels beyond the threshold, without what is the cloth's own.

    ``dashes`` are those of a dyed yarn, if some are known; ``hides`` is whether it may hide
    voids.
    """
    # Where voids are told, so is the weave, for which more has to be waited.
    weave = begun(surface.weave) if judged.has_voids and not judged.bare else surface.weave
    seeds = beyond(surface, sign, judged.threshold)
    if surface.expected is not None and seeds.any():
        seeds = _joined(seeds)
    if not seeds.any():
        return Seeds(seeds, None, [], [])
    # Fewer pixels are fewer objects; else the weave is looked at while these are listed.
    may_repeat = surface.expected is None and np.count_nonzero(seeds) >= LEAST_REPEATING
    if not may_repeat:
        return Seeds(seeds, None, [], [])

    known, vectors = listed(seeds), weave()
    if known.count < LEAST_REPEATING:
        return Seeds(seeds, known, [], [])
    objects = objects_of(seeds, known)
    cloth = repeating(objects, vectors) | of_nets(objects, surface)
    if dashes is not None:
        within = np.bincount(objects.label, dashes.ravel()[objects.at], len(cloth))
        cloth |= within > MOSTLY * objects.areas
        cloth[0] = False
    if not cloth.any():
        return Seeds(seeds, known, [], vectors)
    return _without_cloth(surface, sign, objects, cloth, vectors, hides=hides)


def _without_cloth(
    surface: Surface,
    sign: float,
    objects: Objects,
    cloth: BoolImage,
    vectors: list[Vector],
    *,
    hides: bool,
) -> Seeds:
    """What is left of objects without those known for cloth, and where these hide voids."""
    shape = objects.mask.shape
    columns = shape[1]
    yarns = yarns_of(objects, cloth, columns)
    if yarns is not None:
        cloth[1 + yarns.all] = True
        if yarns.lines.wide < LEAST_YARN_MM * surface.px_per_mm:
            yarns = None
    of_cloth = cloth.take(objects.label)
    # It may have been the cloth alone that stood out: what is left has to stand out of the rest.
    light = surface.smooth.ravel().take(objects.at)
    side: Look = "dark" if sign > 0 else "bright"
    rest = tails_of(surface, side, without=objects.drawn(cloth))[side]
    hidden = None
    if yarns is not None and hides and rest.has_voids:
        hidden = hiding_voids(yarns, objects, cloth, light, sign=sign)
    turned = _turned_down(objects, cloth, yarns if hidden else None, columns)
    along = None if yarns is None else AlongYarns.of(yarns, shape)
    stays = ~of_cloth | _is_deeper(light, of_cloth, sign)
    hiding = None
    if hidden:
        hiding, jutting = hidden
        stays[np.searchsorted(objects.at, jutting)] = True
        stays &= ~hiding.ravel().take(objects.at)
    further, level = _further(sign, rest.threshold if rest.has_voids else rest.lone)
    at = objects.at.compress(stays & further(light, level))
    seeds = np.zeros(shape, dtype=bool)
    seeds.ravel()[at] = True
    return Seeds(seeds, listed_at(at, shape), turned, vectors, hiding, along)


def _turned_down(
    objects: Objects, cloth: BoolImage, hiding: Yarns | None, columns: int
) -> list[Turned]:
    """What of the cloth is turned down, and what is not even inspected."""
    hides = np.zeros_like(cloth)
    if hiding is not None:
        hides[1 + hiding.all] = True
    return [
        judging.turned_down(objects.runs, which, columns, why)
        for which, why in ((cloth & ~hides, judging.WEAVE), (hides, judging.DYED))
        if which.any()
    ]


def _joined(seeds: BoolImage) -> BoolImage:
    """Seeds with two more beside them: what is left of cloth is one pixel here and there."""
    joined = np.empty_like(seeds)

    def look(parts: list[slice]) -> None:
        for part in parts:
            first = max(part.start - 1, 0)
            about = seeds[first : part.stop + 1].view(np.uint8)
            own = slice(part.start - first, part.stop - first)
            near = cv2.boxFilter(about, -1, (3, 3), normalize=False)[own]
            np.greater(near * about[own], 2, out=joined[part])

    by_pieces(look, len(seeds), piece=ROWS)
    return joined


def beyond(surface: Surface, sign: float, threshold: float) -> BoolImage:
    """Inspected pixels of more contrast than a threshold in log units of light."""
    further, level = _further(sign, threshold)
    beyond = np.empty(surface.smooth.shape, dtype=bool)

    def look(parts: list[slice]) -> None:
        for part in parts:
            further(surface.smooth[part], level, out=beyond[part])
            if not surface.is_whole:
                beyond[part] &= surface.inspected[part]

    by_pieces(look, len(beyond), piece=ROWS)
    return beyond


def _further(sign: float, threshold: float) -> tuple[np.ufunc, np.uint16]:
    """How light is compared with what level to see whether it is beyond a threshold."""
    level = np.uint16(min(round(ONE * math.exp(-sign * threshold)), 65_535))
    return (np.less if sign > 0 else np.greater), level


def _is_deeper(light: RatioImage, of_cloth: BoolImage, sign: float) -> BoolImage:
    """Which pixels are far beyond what those of them show that are of the cloth."""
    level = ONE * asked_on(light.compress(of_cloth), sign)
    return (light < level) if sign > 0 else (light > level)


def hidden_px(surface: Surface, dark: Tail) -> float:
    """Area of what may be voids among the dark tows of two-tone cloth, in worked pixels.

    Parameters
    ----------
    surface : evenly lit, on which no void was found
    dark : its dark side

    Notes
    -----
    Where the dark side is longer than that of such cloth usually is, but not by so much as to
    speak for voids, what lies beyond its kink may be voids or the gaps between tows.
    """
    if dark.has_voids or dark.limit != TWO_TONE_LIMIT or dark.kink < MAY_HIDE:
        return 0.0
    return float(np.count_nonzero(beyond(surface, 1.0, dark.at)))
