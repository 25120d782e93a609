"""Voids fainter than the cloth's own tones, told by the light close by.

Tows differ from each other, and cloth from place to place. Voids no darker than the darkest of it
are lost in the light of the surface as a whole, and plain to see all the same: they differ from
what lies beside them.
"""

import math
from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_halves
from defectlog.measure.arrays.light import ONE, BoolImage, FloatImage, RatioImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.sides import sample_step, side_of, tails_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.search.either_side import on_either_side
from defectlog.measure.search.fullest_part import fullest_part
from defectlog.units import percent

# What is close by is the median over so many millimetres, of so many means along a side: that of
# more takes several times as long.
WINDOW_MM, ACROSS = 1.0, 5
STEPS, MIDDLE = 100.0, 125  # of grey in a log unit of light, and the grey of even light
# The grey of each step of light.
GREYS = cv2.convertScaleAbs(
    np.log(np.maximum(np.arange(65_536, dtype=np.float32) / ONE, 0.3)), None, STEPS, MIDDLE
).ravel()
# Gaps and edges of sound tows are no even population: they reach 2.7, voids 4.5 and more; measured
# on rendered surfaces.
LIMIT = 4.0
# By single pixels of a large photo, what is close by is told less nearly: the population is clear
# by half as much there, or seldom by more; measured on rendered surfaces.
AS_CLEAR = 0.4
# Of a surface so much has to be void: dust and the like are as clear a population of less.
LEAST = 0.002
# So little of it may be what stands out of many voids that are fainter, and more of single voids
# that no population speaks for: these are so many times as much.
NEXT_TO_NOTHING, SINGLE, FAR_MORE = 5e-4, 2e-3, 10.0
ROWS = 64  # fewer are not worth a second thread
# What is near may be the void itself where that is as wide: so much more may lie unseen.
WIDER = 0.35


def is_next_to_nothing(found: Found, judged: Tail, surface: Surface) -> bool:
    """Whether so little was found that it may be what stands out of many fainter voids."""
    least = NEXT_TO_NOTHING if judged.has_voids else SINGLE
    return found.kept_px < least * surface.inspected_px


def is_worth_more(found: Found, before: Found, surface: Surface) -> bool:
    """Whether what was found on a second look is so much that it makes up for the first."""
    return found.kept_px >= max(LEAST * surface.inspected_px, FAR_MORE * before.kept_px)


def found_close_by(
    surface: Surface,
    tails: dict[Look, Tail],
    before: Found,
    *,
    without: BoolImage | None = None,
) -> tuple[Found, Tail, Look] | None:
    """The voids of a surface as what is close by tells them; None where that says no more.

    Parameters
    ----------
    surface : evenly lit
    tails : of its light as a whole
    before : what was found by these
    without : (M, N) bool, what has no say in what the surface is like
    """
    if surface.is_large:
        step = sample_step(surface)
        struck, beside = (
            None if one is None else one[::step, ::step] for one in (before.struck, without)
        )
        _, few = _seen_near(surface.sampled(step), tails, struck, beside)
        if max(tail.kink for tail in few.values()) < AS_CLEAR * LIMIT:
            return None
    near, seen = _seen_near(surface, tails, before.struck, without)
    told = {side: replace(tail, limit=LIMIT) for side, tail in seen.items() if tail.kink >= LIMIT}
    if not told:
        return None
    first = side_of(told)
    if surface.is_large:
        part = fullest_part(near, first, told[first].threshold)
        some, judged, _ = on_either_side(lambda _: part, told, first)
        if judged.kink < LIMIT or some.kept_px < LEAST * part.inspected_px:
            return None
    found, judged, side = on_either_side(lambda _: near, told, first)
    if judged.kink < LIMIT:
        return None  # what spoke for voids was turned down
    if not is_worth_more(found, before, surface):
        return None
    hidden = WIDER * found.kept_px / surface.inspected_px
    return replace(found, near_mm=WINDOW_MM, hidden=hidden), judged, side


def beware_of_close_by(found: Found) -> list[str]:
    """A warning where voids were told by what lies close by."""
    if not found.close_by:
        return []
    shade = {"dark": "darker", "bright": "brighter"}[str(found.look)]
    return [
        "Tows of this cloth differ as much from each other as its voids from them. What counts is "
        f"{shade} than most of what lies within about {found.near_mm / 2:g} mm of it: fainter "
        "voids, and parts of much wider ones, may be missed. They may be "
        f"{percent(found.hidden)} of the surface more, and the interval reaches so far. Look at "
        "the outlines."
    ]


def _seen_near(
    surface: Surface, tails: dict[Look, Tail], struck: BoolImage, without: BoolImage | None
) -> tuple[Surface, dict[Look, Tail]]:
    """The light of a surface to that of what lies close by, and the tails of that."""
    bent = _turned_down(surface, tails, struck)
    # So near to what noise makes of cloth, this is told by all of it: it is not evened out.
    near = replace(surface, smooth=to_what_is_near(surface, bent), noise=0.0)
    look = "auto" if len(tails) > 1 else next(iter(tails))
    return near, tails_of(near, look, without=without)


def _turned_down(surface: Surface, tails: dict[Look, Tail], struck: BoolImage) -> BoolImage:
    """What stood out of the surface as a whole and was turned down, hairs and yarn for instance.

    All of it, if it did so as a population.
    """
    light = surface.smooth
    if any(tail.has_voids for tail in tails.values()):
        # Whole steps: NumPy compares light with them as they are.
        if "dark" in tails:
            struck = struck | (light < math.ceil(ONE * math.exp(-tails["dark"].careful)))
        if "bright" in tails:
            struck = struck | (light > math.floor(ONE * math.exp(tails["bright"].careful)))
    return struck


def to_what_is_near(
    surface: Surface, turned_down: BoolImage | None = None, *, window_mm: float = WINDOW_MM
) -> RatioImage:
    """Light to that of what lies close by.

    Parameters
    ----------
    surface : evenly lit, (M, N)
    turned_down : (M, N) bool, what is no void and bends the light about it: there it is 1
    window_mm : over how much it is compared

    Returns
    -------
    (M, N) in steps of light, as ``Surface.smooth`` is
    """
    light = surface.smooth
    whole = light.shape[::-1]
    times = max(1, round(window_mm * surface.px_per_mm / ACROSS))
    size = tuple(-(-side // times) for side in whole)
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    greys = np.concatenate(by_halves(lambda part: GREYS.take(small[part]), len(small), least=ROWS))
    greys = cv2.medianBlur(greys, ACROSS).astype(np.float32)
    greys = cv2.GaussianBlur(greys, (0, 0), ACROSS / 6)
    near = np.concatenate(by_halves(lambda part: _light_of(greys[part]), len(greys), least=ROWS))
    near = cv2.resize(near, whole, interpolation=cv2.INTER_LINEAR)
    near = cv2.divide(light, near, scale=ONE, dtype=cv2.CV_16U)
    if turned_down is not None and turned_down.any():
        bent = _any_of(turned_down, size).view(np.uint8)
        bent = cv2.dilate(bent, np.ones((ACROSS,) * 2, np.uint8))
        bent = cv2.resize(bent, whole, interpolation=cv2.INTER_NEAREST).view(bool)
        by_halves(lambda part: np.copyto(near[part], ONE, where=bent[part]), len(near), least=ROWS)
    return near


def _light_of(greys: FloatImage) -> RatioImage:
    """Steps of light from greys, which may lie between two of them."""
    light = greys - MIDDLE
    light /= STEPS
    np.exp(light, out=light)
    light *= ONE
    return light.astype(np.uint16)


def _any_of(mask: BoolImage, size: tuple[int, int]) -> BoolImage:
    """Which cells of so many columns and rows have any of a mask in them."""
    across, down = size
    is_whole = mask.shape[0] % down == mask.shape[1] % across == 0
    # As bytes in a fifth of the time, where no pixel is so little of a cell as to be lost.
    if is_whole and mask.size < 255 * across * down:
        shares = mask.view(np.uint8) * np.uint8(255)
    else:
        shares = mask.astype(np.float32)
    return cv2.resize(shares, size, interpolation=cv2.INTER_AREA) > 0
