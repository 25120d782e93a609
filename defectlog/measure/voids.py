"""Voids on a photo of a surface: the steps in order, nothing else."""

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import without_opencv_threads
from defectlog.measure.arrays.light import grey_of
from defectlog.measure.arrays.memory import keep_freed_memory
from defectlog.measure.candidates.sides import side_of, tails_of
from defectlog.measure.cloth.surface import LIGHT_MM, prepare
from defectlog.measure.figures import beware
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.figures.rim import rim_of
from defectlog.measure.figures.summary import SMALLEST_PX, summarise
from defectlog.measure.hand_set import STEPS, beware_of_hand, found_by_hand, step_of
from defectlog.measure.lengths.region import Region, inspected_region
from defectlog.measure.lengths.scale import NO_SCALE, Polygon, Scale, given_scale
from defectlog.measure.search.sought import about_picture, seek


@without_opencv_threads()
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
    rim = None if region is None else rim_of(surface)
    sought = None
    if by_hand is None:
        sought = seek(grey, surface, look, rim)
        surface, found, side, about = sought.surface, sought.found, sought.side, sought.about
    else:
        side = side_of(tails_of(surface, look))
        found, about = found_by_hand(surface, side, by_hand), about_picture(grey, surface)
    settings: dict[str, Any] = {
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
    if found.close_by:
        settings["near_mm"] = found.near_mm
    if found.fainter:
        settings["fainter"] = True
    if leave_out:
        settings["leave_out"] = [[[float(x), float(y)] for x, y in one] for one in leave_out]
    measured = summarise(
        grey.shape,
        surface,
        found,
        weave_deg=about.weave_deg if found.kept.any() else None,
        scale=scale,
        smallest_mm=smallest_mm,
        settings=settings,
        outlined=region is not None,
    )
    if sought is None:
        doubts = beware_of_hand(by_hand, side)
    else:
        doubts = sought.beware_of(measured, scale.px_per_mm, outlined=region is not None)
        if not measured.count:
            doubts += beware.of_focus(grey, measured.inspected_mask)
    doubts += beware.of_rim(rim)
    return replace(
        measured,
        warnings=measured.warnings + about.doubts + tuple(doubts),
        seconds=time.perf_counter() - began,
    )
