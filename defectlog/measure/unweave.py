"""A surface without its own weave, on which voids show as on an even one."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import cv2
import numpy as np

from defectlog.measure.halves import in_two
from defectlog.measure.inverse import inverse_surface
from defectlog.measure.light import ONE, BoolImage, FloatImage, RatioImage, from_cells, to_cells
from defectlog.measure.result import Look
from defectlog.measure.same_tow import (
    STRIP_PX,
    Likeness,
    Places,
    likeness,
    log_of,
    middle_and_spread,
    places_along,
)
from defectlog.measure.sound_light import halved
from defectlog.measure.surface import Surface
from defectlog.measure.threshold import Tail
from defectlog.measure.tows import TowRepeats, tow_repeats

# Where light tows go so far beyond the middle, in log units of light, and all of it lies so far
# from it, dark voids may be no darker than tows and gaps; and where dark tows do, bright voids no
# brighter.
MAY_HIDE_DARK, MAY_HIDE_BRIGHT, SWING = 0.24, 0.3, 0.2
# Cloth that was told right leaves no more than this of its swing; and seldom more than that of
# its light, if what repeats is not half of a repeat.
LEFT, UNCLEAR = 0.5, 0.15
SAMPLED = 5  # of so many pixels one along a side, for how far the cloth swings
# Where too few places say where a gap is, or they were met only nearly, it may be anywhere within
# so much of a pitch. Met nearly are edges that stand out so many times as far as usual; further
# still the way along the tows was lost, there and so many halves of a pitch about.
ASTRAY, ASTRAY_TIMES, ASTRAY_LEAST = 0.12, 3.0, 0.03
LOST_TIMES, LOST_CELLS = 6.0, 7
# What is left of light over some millimetres, in log units, is the shading of folds and the flank
# of glints; more than this is not of them.
# Beside glare, which has bent the light of all that is about it, it is more and wider.
SHADE_CELL_MM = 0.25
FOLDS, GLARE = (2.5, 0.3), (8.0, 1.2)


def unwoven(
    surface: Surface, tails: dict[Look, Tail], *, only: Look | None = None
) -> dict[Look, Surface]:
    """Take the weave out of a surface, for voids of either look that it may hide.

    Parameters
    ----------
    surface : evenly lit
    tails : of its light
    only : the look it is wanted for, if not for all

    Returns
    -------
    dict of Look, Surface
        For a look that the weave does not hide, or where cloth can't be told, none. ``smooth`` is
        the light to that of the cloth, ``expected`` the cloth's own and ``least`` what it is
        compared with, both at half the size. For bright voids all its light is inverse: they are
        dark on it.
    """
    wanted = tails if only is None else (only,)
    hidden = [look for look in wanted if _may_hide(surface, tails, look)]
    if not hidden:
        return {}
    some = (slice(None, None, SAMPLED),) * 2
    swing = middle_and_spread(log_of(surface.smooth[some][surface.inspected[some]]))[1]
    repeats = tow_repeats(surface) if swing >= SWING else None
    if repeats is None:
        return {}
    followed = _followed(surface, repeats)  # once for both looks
    told = {}
    for look in hidden:
        lit = surface if look == "dark" else inverse_surface(surface)
        bare, lost = _compared(lit, followed, repeats.pitch, swing)
        if bare is not None and surface.is_glared:
            # On the flank of glare voids show less than the cloth does: it hides them there as
            # well. Nor do its gaps, lit up by it, say what others are like.
            lit = lit.within(~lost)
            bare, _ = _compared(lit, _followed(lit, repeats), repeats.pitch, swing)
        if bare is not None:
            told[look] = bare
    return told


def _may_hide(surface: Surface, tails: dict[Look, Tail], look: Look) -> bool:
    """Whether voids of a look may be no further from the middle than tows and gaps are."""
    if look == "dark":
        return tails[look].reach >= MAY_HIDE_DARK
    # What glares is bright on every other tow. And where dark voids alone are clear, these are it.
    is_dark = not tails[look].has_voids and "dark" in tails and tails["dark"].has_voids
    return tails[look].reach >= MAY_HIDE_BRIGHT and not is_dark and not surface.is_glared


def _followed(surface: Surface, repeats: TowRepeats) -> Callable[[bool], Places | None]:
    """What is asked for places along the tows: whether of every second repeat alone."""
    return cache(lambda twice: places_along(surface, repeats.doubled() if twice else repeats))


def _compared(
    surface: Surface, followed: Callable[[bool], Places | None], pitch: float, swing: float
) -> tuple[Surface | None, BoolImage]:
    """The surface without its weave, if it can be told, and where the way along tows was lost."""
    best = None
    for twice in (False, True):
        # Warp and weft may look so alike that one was taken for the other.
        places = followed(twice) if best is None or best.left > UNCLEAR else None
        like = None if places is None else likeness(surface, places)
        if like is not None and (best is None or like.left < best.left):
            best = like
    if best is None or best.left > LEFT * swing:
        return None, np.zeros(surface.smooth.shape, dtype=bool)
    if surface.is_glared:
        _shade(surface, best, 0.0, *GLARE)
    _shade(surface, best, best.middle, *FOLDS)  # voids darken all of it a little
    near, lost = _as_dark_as_near(surface, best, pitch)
    least = halved(near)
    least[lost[::2, ::2]] = 0
    bare = replace(
        surface,
        smooth=_to_cloth(surface.smooth, near, best.nearer),
        expected=halved(best.cloth),
        least=least,
    )
    return bare, lost


def _shade(surface: Surface, like: Likeness, usual: float, wide_mm: float, most: float) -> None:
    """Give cloth the light that folds and glints give it, and what is usual of it, in place.

    Parameters
    ----------
    usual : light of the surface to that of the cloth, in log units
    wide_mm, most : over how many millimetres, and how far off, folds and glints are
    """
    cell = max(1, round(SHADE_CELL_MM * surface.px_per_mm))
    own, cloth = (
        np.log(np.maximum(to_cells(one, cell).astype(np.float32), 1))
        for one in (surface.smooth, like.nearer)
    )
    left = own - cloth
    left[np.abs(left) > most] = 0
    steps = 120 / most
    greys = np.rint(128 + steps * left).astype(np.uint8)
    wide = min(2 * round(wide_mm / 2 * surface.px_per_mm / cell) + 1, 255)
    shade = (cv2.medianBlur(greys, wide).astype(np.float32) - 128) / np.float32(steps)
    shade += np.float32(usual) - np.median(shade)
    shade = ONE * np.exp(cv2.GaussianBlur(shade, (0, 0), wide / 6))
    shade = from_cells(shade.astype(np.uint16), cell, surface.smooth.shape, smooth=True)
    shade = np.ascontiguousarray(shade)
    for one in (like.cloth, like.nearer):
        cv2.multiply(one, shade, dst=one, scale=1 / ONE)


def _as_dark_as_near(
    surface: Surface, like: Likeness, pitch: float
) -> tuple[RatioImage, BoolImage]:
    """The least light of the cloth within as far as it may have been told astray.

    With it, where the way along the tows was lost.
    """
    cloth = like.cloth
    near = cv2.erode(cloth, np.ones((3, 3), np.uint8))
    cell = max(1, round(pitch / 2))
    times = _times_astray(surface, like.nearer, cell)
    lost = cv2.dilate((times > LOST_TIMES).view(np.uint8), np.ones((LOST_CELLS,) * 2, np.uint8))
    astray, lost = (
        from_cells(cells, cell, cloth.shape, smooth=False) > 0
        for cells in ((times > ASTRAY_TIMES).view(np.uint8), lost)
    )
    reach = max(3, 2 * round(ASTRAY * pitch) + 1)
    np.copyto(near, cv2.erode(cloth, np.ones((reach, reach), np.uint8)), where=astray | like.few)
    darker = cv2.min(surface.smooth, near)
    np.copyto(near, cv2.max(darker, 1, dst=darker), where=lost)
    return near, lost


def _times_astray(surface: Surface, nearer: RatioImage, cell: int) -> FloatImage:
    """By how much more than usual there is brighter than cloth: tows where there should be gaps.

    In cells of so many pixels.
    """
    brighter = cv2.subtract(cv2.min(surface.smooth, 2 * ONE), cv2.min(nearer, 2 * ONE))
    excess = cv2.blur(to_cells(brighter, cell).astype(np.float32), (3, 3))
    return excess / max(float(np.median(excess)), ASTRAY_LEAST * ONE / ASTRAY_TIMES)


def _to_cloth(own: RatioImage, near: RatioImage, nearer: RatioImage) -> RatioImage:
    """Light to that of the cloth.

    What is darker than all cloth near is told by that; what is not, by how far it is from the
    cloth there, either way: edges of tows that were met only nearly are no noise of the surface.
    """
    to_cloth = np.empty_like(own)

    def told(strips: list[slice]) -> None:
        for strip in strips:
            light, cloth = own[strip], nearer[strip]
            above = cv2.divide(
                cv2.max(light, cloth),
                cv2.max(cv2.min(light, cloth), 1),
                scale=ONE,
                dtype=cv2.CV_16U,
            )
            lit = cv2.divide(light, near[strip], scale=ONE, dtype=cv2.CV_16U)
            np.copyto(lit, above, where=lit >= ONE)
            to_cloth[strip] = lit

    # Strip by strip, for what is worked out on the way would take the memory of four pictures.
    strips = [slice(top, top + STRIP_PX) for top in range(0, len(own), STRIP_PX)]
    in_two(told, strips[::2], strips[1::2])
    return to_cloth
