"""Where voids may be: pixels beyond a threshold, without what is the cloth's own."""

import math

import cv2
import numpy as np

from defectlog.measure import judging
from defectlog.measure.halves import both, by_pieces
from defectlog.measure.judging import Turned
from defectlog.measure.light import ONE, BoolImage, as_ratio
from defectlog.measure.nets import of_nets
from defectlog.measure.pixels import Listed, Numbered, listed, numbered
from defectlog.measure.result import Look
from defectlog.measure.sides import tails_of
from defectlog.measure.surface import Surface
from defectlog.measure.threshold import TWO_TONE_LIMIT, Tail
from defectlog.measure.weave import (
    LEAST_REPEATING,
    Vector,
    objects_of,
    repeating,
    weave_repeats,
)
from defectlog.measure.yarns import rest_of_yarns

ROWS = 128  # that are looked at at a time
# How far beyond the cloth's own contrast a void on it has to be, as a share of that.
DEEPER = 0.4
MAY_HIDE = 1.0  # kinks of two-tone carbon that holds no void are below, nearly all


def seeds_of(
    surface: Surface, sign: float, judged: Tail
) -> tuple[BoolImage, Listed | None, list[Turned], list[Vector]]:
    """Pixels beyond the threshold, without what is the cloth's own.

    With them, if nothing had to be taken out, the objects they make; and else what was taken
    out. Last the repeats of the weave, where there was enough to ask for them.
    """
    seeds = beyond(surface, sign, judged.threshold)
    if surface.expected is not None and seeds.any():
        seeds = _joined(seeds)
    if not seeds.any():
        return seeds, None, [], []
    # Fewer pixels are fewer objects; else the weave is looked at while these are listed.
    may_repeat = surface.expected is None and np.count_nonzero(seeds) >= LEAST_REPEATING

    if not may_repeat:
        return seeds, listed(seeds), [], []

    def numbers() -> tuple[Numbered, Listed]:
        known = numbered(seeds)
        return known, listed(seeds, known)

    (known, pixels), vectors = both(
        numbers,
        lambda: weave_repeats(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm),
    )
    if known.count < LEAST_REPEATING:
        return seeds, pixels, [], []
    objects = objects_of(known.labels, pixels)
    cloth = repeating(objects, vectors) | of_nets(objects, surface)
    if not cloth.any():
        return seeds, pixels, [], vectors
    columns = seeds.shape[1]
    cloth |= rest_of_yarns(objects, cloth, columns)
    dropped = judging.turned_down(objects.at, objects.label, cloth, columns, judging.WEAVE)
    yarn = cloth[known.labels]
    seeds &= ~yarn | _deeper(surface, yarn, sign)
    # It may have been the cloth alone that stood out: what is left has to stand out of the rest.
    side: Look = "dark" if sign > 0 else "bright"
    rest = tails_of(surface, side, without=yarn)[side]
    seeds &= beyond(surface, sign, rest.threshold if rest.has_voids else rest.lone)
    return seeds, None, [dropped], vectors


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
    level = np.uint16(min(round(ONE * math.exp(-sign * threshold)), 65_535))
    beyond = surface.smooth < level if sign > 0 else surface.smooth > level
    if not surface.is_whole:
        beyond &= surface.inspected
    return beyond


def _deeper(surface: Surface, yarn: BoolImage, sign: float) -> BoolImage:
    """What lies in the cloth that was dropped, but far beyond what the cloth itself shows."""
    light = as_ratio(surface.smooth[yarn])
    middle = float(np.median(light))
    sd = 1.4826 * float(np.median(np.abs(light - middle)))
    beyond = max(5 * sd, DEEPER * abs(1 - middle))
    if sign > 0:
        return yarn & (surface.smooth < ONE * (middle - beyond))
    return yarn & (surface.smooth > ONE * (middle + beyond))


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
