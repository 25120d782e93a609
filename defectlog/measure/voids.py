"""Voids on a photo of a surface: the steps in order, nothing else."""

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectlog.measure import beware
from defectlog.measure.arrangement import weave_direction
from defectlog.measure.crumbs import as_share, crumbs_of, without_crumbs
from defectlog.measure.either_side import on_either_side
from defectlog.measure.halves import both
from defectlog.measure.hand_set import STEPS, beware_of_hand, found_by_hand, step_of
from defectlog.measure.joining import small_voids, with_patches
from defectlog.measure.light import GreyImage, grey_of
from defectlog.measure.memory import keep_freed_memory
from defectlog.measure.patches import Patch, find_patches
from defectlog.measure.region import Region, inspected_region
from defectlog.measure.result import Look, VoidMeasurement
from defectlog.measure.scale import NO_SCALE, Polygon, Scale, given_scale
from defectlog.measure.seeds import hidden_px
from defectlog.measure.sides import side_of, tails_of
from defectlog.measure.splinters import with_splinters
from defectlog.measure.summary import SMALLEST_PX, Found, full_size, summarise
from defectlog.measure.surface import LIGHT_MM, Surface, prepare
from defectlog.measure.threshold import TWO_TONE
from defectlog.measure.unweave import unwoven

# Of how far light tows go beyond the middle, what stays unsure once the weave is taken out.
STAYS = 0.3


def measure_voids(
    image: NDArray[np.uint8],
    *,
    px_per_mm: float | None = None,
    region: Region | None = None,
    look: Literal["auto", "dark", "bright"] = "auto",
    smallest_mm: float | None = None,
    scale: Scale | None = None,
    threshold: float | None = None,
    leave_out: Sequence[Polygon] = (),
) -> VoidMeasurement:
    """Measure the voids that show on a surface.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue array, uint8, upright
    px_per_mm : of the picture, if that is all that is known of its scale
    region : what to inspect: (x, y, width, height), a polygon of (x, y), or an (M, N) bool
        mask, in pixels of the picture; None for all of it
    look : whether voids are darker or brighter than the surface; ``"auto"`` finds out
    smallest_mm : voids of smaller diameter are left out; needs a scale
    scale : from ``find_card`` and the like, instead of ``px_per_mm``: sizes then allow for
        tilt, and the card itself is left out of the region
    threshold : set by hand, 0.05 to 0.95, in steps of 0.005: the share of light a pixel has to
        lack against the surface around it to count (of a bright void, the surface against
        the pixel). Every such pixel counts, nothing is judged; None finds voids by itself
    leave_out : outlines of (x, y) that are not inspected

    Returns
    -------
    VoidMeasurement

    Raises
    ------
    NoContrastError
        If the region is all of one shade.
    NothingInspectedError
        If the region, less the card and glare, holds less than 2500 pixels.
    RegionError, BadScaleError
        If the region, an outline to leave out, or the scale is none.
    BadThresholdError
        If the threshold is out of range.

    Notes
    -----
    The surface itself says what is a void: its light is made linear and even, and pixels
    count as void only where a second population shows beyond the surface's own tail.
    Outlines run halfway in light between each void and the surface round it; voids a few
    pixels across are sized by the light they take away. Nothing is random: the same
    picture gives the same figures.
    """
    began = time.perf_counter()
    keep_freed_memory()
    if look not in ("auto", "dark", "bright"):
        raise ValueError(f"look is auto, dark or bright, not {look!r}")
    if scale is None:
        scale = NO_SCALE if px_per_mm is None else given_scale(px_per_mm)
    grey = grey_of(image)
    inside = inspected_region(region, grey.shape, scale.card_outlines, leave_out)
    by_hand = None if threshold is None else step_of(threshold) / STEPS
    surface = prepare(grey, inside, scale.px_per_mm)
    sides = tails_of(surface, look)
    surfaces = dict.fromkeys(sides, surface)
    swing_of_cloth = max(tail.reach for tail in sides.values())
    side = side_of(sides)
    if by_hand is None and "dark" in sides:
        bare = unwoven(surface, sides["dark"])
        if bare is not None:
            swing_of_cloth = TWO_TONE + STAYS * sides["dark"].reach
            is_clear = sides[side].has_voids
            surfaces["dark"] = bare
            sides = sides | tails_of(bare, "dark")
            # Other places of a cloth with bright voids make it look darker than it is.
            side = side if is_clear else side_of(sides)
    patches: tuple[Patch, ...] = ()
    if by_hand is None:
        found, judged, side = on_either_side(surfaces, sides, side)
        hidden = 0.0
        if not found.kept.any() and "dark" in sides:
            hidden = hidden_px(surface, sides["dark"])
        patches, (weave_deg, doubts) = both(
            lambda: find_patches(surface, small_voids(found, surface)),
            lambda: _whatever_is_found(grey, surface),
        )
        found, patches = with_patches(found, surface, patches, look=look)
        if not found.is_both:
            found = _without_crumbs(found, surfaces[side], side)
        if not found.is_both and not judged.bare:
            found = with_splinters(found, surface, patches)
        # Of a surface on which voids were found, the side they are on is theirs as well.
        swing = swing_of_cloth
        if found.kept.any() and not judged.bare:
            swing = judged.reach
        found = replace(found, swing=swing, doubtful_px=found.doubtful_px + hidden)
    else:
        found = found_by_hand(surface, side, by_hand)
        weave_deg, doubts = _whatever_is_found(grey, surface)
    settings = {
        "look": look,
        "smallest_mm": smallest_mm,
        "smallest_px": SMALLEST_PX * surface.shrink,
        "light_mm": LIGHT_MM,
        "worked_at": 1 / surface.shrink,
    }
    if by_hand is not None:
        settings["threshold"] = by_hand
    if found.is_both:
        settings["also"] = "bright" if side == "dark" else "dark"
    if leave_out:
        settings["leave_out"] = [[[float(x), float(y)] for x, y in one] for one in leave_out]
    measured = summarise(
        grey.shape,
        surface,
        found,
        weave_deg=weave_deg if found.kept.any() else None,
        scale=scale,
        smallest_mm=smallest_mm,
        settings=settings,
        outlined=region is not None,
    )
    if by_hand is None:
        doubts += beware.of_finding(
            judged,
            next((tail for name, tail in sides.items() if name != side), None),
            found.blur_px,
            found=measured.count > 0,
            both=found.is_both,
            shrink=surface.shrink,
            outlined=region is not None,
        )
        doubts += beware.of_hidden(hidden / surface.inspected_px)
        doubts += beware.of_patches(patches, scale.px_per_mm, surface)
        doubts += beware.of_turned(
            found.turned,
            sum(void.area_px for void in measured.voids),
            measured.inspected_px,
            shrink=surface.shrink,
        )
        if not measured.count:
            doubts += beware.of_focus(grey, measured.inspected_mask)
    else:
        doubts += beware_of_hand(by_hand, side)
    return replace(
        measured,
        warnings=measured.warnings + tuple(doubts),
        seconds=time.perf_counter() - began,
    )


def _whatever_is_found(grey: GreyImage, surface: Surface) -> tuple[float | None, list[str]]:
    """What a picture says before any void is found: how its tows run, and what to beware of."""
    weave_deg = weave_direction(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm)
    return weave_deg, beware.of_picture(grey, full_size(surface.inspected, grey.shape))


def _without_crumbs(found: Found, surface: Surface, side: Look) -> Found:
    """Without the specks that nothing speaks for once a few large voids are left out."""
    crumbs = crumbs_of(found, surface)
    if crumbs is None:
        return found
    specks, about = crumbs
    rest = tails_of(surface, side, without=about)[side]
    if rest.has_voids:
        return found
    return without_crumbs(found, specks, as_share(rest.lone, dark=side == "dark"))
