"""The evened surface as a small picture of steps, to try thresholds on without measuring anew."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import grey_of
from defectlog.measure.arrays.look import Look
from defectlog.measure.candidates.sides import side_of_voids
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.figures.summary import SMALLEST_PX
from defectlog.measure.hand_set import NOT_INSPECTED, STEPS, LevelImage, beyond, levels_of
from defectlog.measure.lengths.region import Region, inspected_region
from defectlog.measure.lengths.scale import NO_SCALE, Polygon, Scale

# Below 5 % there is nothing but grain, which would only make the picture heavy to send.
LEAST_STEP = 10
# Where objects are looked up at full size if the picture had to be made smaller.
LOOKED_UP = (10, 13, 16, 20, 25, 30, 36, 43, 50, 60, 72, 85, 100, 120, 145, 170, 190)
CELL_PX = 16


@dataclass(frozen=True, slots=True)
class LivePicture:
    """What is needed to count at any threshold.

    ``levels`` are steps of the threshold as in ``levels_of``, with what lies below 10 set to 0,
    cut to the inspected surface and perhaps made smaller; ``box`` is where it lies (left, top,
    width, height in pixels of the picture as given). ``shares[k]`` is the share of the
    inspected surface at step k and beyond, at full size and by area on the surface. Objects of
    less than ``least_px`` pixels of ``levels`` do not count. If ``is_reduced``, ``looked_up``
    holds (step, share of what lies beyond it that counts, number of objects) at full size.
    """

    levels: LevelImage
    box: tuple[float, float, float, float]
    look: Look
    shares: tuple[float, ...]
    least_px: float
    worked_at: float
    is_reduced: bool
    looked_up: tuple[tuple[int, float, int], ...]


def live_picture(
    image: NDArray[np.uint8],
    *,
    region: Region | None = None,
    look: Literal["auto", "dark", "bright"] = "auto",
    smallest_mm: float | None = None,
    scale: Scale | None = None,
    leave_out: Sequence[Polygon] = (),
    most_px: int = 2_000_000,
) -> LivePicture:
    """Make the picture thresholds are tried on.

    Parameters
    ----------
    image, region, look, smallest_mm, scale, leave_out : as for ``measure_voids``
    most_px : how many pixels the picture may have; more are averaged

    Raises
    ------
    NoContrastError, NothingInspectedError, RegionError
        As ``measure_voids``.
    """
    scale = NO_SCALE if scale is None else scale
    grey = grey_of(image)
    inside = inspected_region(region, grey.shape, scale.card_outlines, leave_out)
    surface = prepare(grey, inside, scale.px_per_mm)
    side = side_of_voids(surface, look)
    levels, _ = levels_of(surface, side)
    shares = _shares(levels, scale, surface.shrink)
    rows, columns = (np.flatnonzero((levels != NOT_INSPECTED).any(axis)) for axis in (1, 0))
    top, left = int(rows[0]), int(columns[0])
    levels = np.ascontiguousarray(levels[top : rows[-1] + 1, left : columns[-1] + 1])
    high, wide = levels.shape
    least = math.pi / 4 * SMALLEST_PX**2
    if smallest_mm is not None and scale.px_per_mm is not None:
        least = max(least, math.pi / 4 * (smallest_mm * scale.px_per_mm / surface.shrink) ** 2)
    smaller = min(1.0, math.sqrt(most_px / levels.size))
    looked_up: tuple[tuple[int, float, int], ...] = ()
    if smaller < 1:
        looked_up = tuple(_look_up(levels, step, least) for step in LOOKED_UP)
        size = (max(1, int(wide * smaller)), max(1, int(high * smaller)))
        levels = _reduced(levels, size)
    levels[levels < LEAST_STEP] = 0
    k = surface.shrink
    return LivePicture(
        levels=levels,
        box=(left * k, top * k, wide * k, high * k),
        look=side,
        shares=shares,
        least_px=least * levels.size / (wide * high),
        worked_at=1 / k,
        is_reduced=smaller < 1,
        looked_up=looked_up,
    )


def _shares(levels: LevelImage, scale: Scale, shrink: int) -> tuple[float, ...]:
    """Share of the inspected surface at each step and beyond, by area on the surface."""
    if scale.homography is None:
        counts = np.bincount(levels.ravel(), minlength=256)[:STEPS].astype(np.float64)
    else:
        # The scale changes slowly over the picture: strips of cells share one.
        counts = np.zeros(STEPS)
        for top in range(0, levels.shape[0], CELL_PX):
            strip = levels[top : top + CELL_PX]
            y = (top + strip.shape[0] / 2) * shrink - 0.5
            x = (np.arange(0, strip.shape[1], CELL_PX) + CELL_PX / 2) * shrink - 0.5
            per_mm = scale.px_per_mm_at(x, np.full(len(x), y))
            weight = np.repeat(1 / per_mm**2, CELL_PX)[: strip.shape[1]]
            weights = np.broadcast_to(weight, strip.shape).ravel()
            counts += np.bincount(strip.ravel(), weights, minlength=256)[:STEPS]
    upto = counts[::-1].cumsum()[::-1]
    return tuple((upto / upto[0]).tolist())


def _look_up(levels: LevelImage, step: int, least: float) -> tuple[int, float, int]:
    mask = beyond(levels, step)
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), ltype=cv2.CV_32S)
    areas = stats[1:, cv2.CC_STAT_AREA]
    counted = areas[areas >= least]
    share = float(counted.sum()) / float(areas.sum()) if len(areas) else 1.0
    return step, share, len(counted)


def _reduced(levels: LevelImage, size: tuple[int, int]) -> LevelImage:
    """Smaller, each pixel the mean of the inspected ones it stands for."""
    held = (levels != NOT_INSPECTED).astype(np.float32)
    mean = cv2.resize(levels * held, size, interpolation=cv2.INTER_AREA)
    held = cv2.resize(held, size, interpolation=cv2.INTER_AREA)
    small = np.clip(np.rint(mean / np.maximum(held, 0.01)), 0, STEPS - 1).astype(np.uint8)
    small[held < 0.5] = NOT_INSPECTED
    return small
