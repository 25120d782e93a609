"""A threshold set by a person: every pixel that far off the surface around it is counted.

The automatic measurement judges each object it finds. Here nobody judges but the person: what
lies beyond the threshold counts, pixel by pixel, and nothing else does.
"""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.errors import DefectlogError
from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import Vector
from defectlog.measure.outlines.shapes import shapes_of
from defectlog.units import percent

LevelImage = NDArray[np.uint8]

# Thresholds come in steps of half a hundredth of the light, so that a byte holds them all.
STEPS = 200
LEAST, MOST = 0.05, 0.95
NOT_INSPECTED = 255
# The interval asks what moving the threshold would change: an eighth of what lies within so much
# of it.
SOFT, SOFT_OFF = 0.3, 1 / 8
# The weave is only taken out if that calms the surface by at least this share of its scatter.
CALMER = 0.15
STRIP_PX = 512


class BadThresholdError(DefectlogError):
    """A threshold that is none."""

    def __init__(self, threshold: float) -> None:
        super().__init__(
            f"A threshold of {100 * threshold:g} % is out of range",
            f"set it from {100 * LEAST:g} to {100 * MOST:g} %",
        )


def step_of(threshold: float) -> int:
    """The step, 1 to 199, of a threshold given as a share of the light.

    Raises
    ------
    BadThresholdError
        If it is not from 0.05 to 0.95.
    """
    if not LEAST <= threshold <= MOST:
        raise BadThresholdError(threshold)
    return round(threshold * STEPS)


def threshold_words(threshold: float, look: str | None) -> str:
    """``30 % darker than the surface around it``, as a person sets and reads it."""
    if look == "bright":
        return f"{percent(threshold / (1 - threshold))} brighter than the surface around it"
    return f"{percent(threshold)} darker than the surface around it"


def levels_of(surface: Surface, look: Look) -> tuple[LevelImage, list[Vector]]:
    """How far each pixel is off the surface around it, in steps, with the weave taken out.

    Parameters
    ----------
    surface : evenly lit
    look : which way voids differ

    Returns
    -------
    levels : (M, N) uint8. For dark voids 200 times the share of light a pixel lacks against
        the surface around it, for bright ones 200 times the share the surface lacks against
        the pixel, rounded down; 0 for what lies on the other side, 255 where nothing is
        inspected
    repeats : of the weave that was taken out, none if none was

    Notes
    -----
    Where the cloth repeats itself, a pixel is compared with the middle of the same place in
    four neighbouring repeats: a dark tow is then no darker than it should be, and a void on it
    still is. A void in one of the four does not move their middle.
    """
    repeats = surface.weave()[:2]
    around = None
    if repeats:
        around = _same_place(surface.smooth, repeats)
        if not _is_calmer(surface, around):
            around, repeats = None, []
    levels = np.empty(surface.smooth.shape, np.uint8)
    for top in range(0, levels.shape[0], STRIP_PX):
        strip = slice(top, top + STRIP_PX)
        own = surface.smooth[strip].astype(np.float32)
        other = np.float32(ONE) if around is None else around[strip].astype(np.float32)
        if look == "bright":
            own, other = np.broadcast_to(other, own.shape), np.maximum(own, 1)
        lacking = 1 - own / np.maximum(other, np.float32(1))
        levels[strip] = np.clip(lacking * STEPS + np.float32(1e-3), 0, STEPS - 1)
    if not surface.is_whole:
        levels[~surface.inspected] = NOT_INSPECTED
    return levels, repeats


def beyond(levels: LevelImage, step: int) -> BoolImage:
    """Inspected pixels of that step and further off."""
    return cv2.inRange(levels, step, STEPS - 1).view(np.bool_)


def found_by_hand(surface: Surface, look: Look, threshold: float) -> Found:
    """The objects beyond a threshold set by hand, none of them turned down."""
    step = step_of(threshold)
    levels, repeats = levels_of(surface, look)
    mask = beyond(levels, step)
    shapes = shapes_of(mask)
    n = len(shapes.area)
    reach = SOFT / 2 * step
    soft = beyond(levels, max(1, round(step - reach))) & ~beyond(levels, round(step + reach))
    whole = max(float(shapes.area.sum()), 1.0)
    return Found(
        mask=mask,
        shapes=shapes,
        area=shapes.area,
        kept=np.ones(n, dtype=bool),
        height=shapes.means_of(levels) / STEPS,
        unsure_px=shapes.area * (SOFT_OFF * np.count_nonzero(soft) / whole),
        look=look,
        threshold=-math.log1p(-step / STEPS),
        blur_px=None,
        turned=(),
        struck=np.zeros_like(mask),
        repeats=repeats,
    )


def beware_of_hand(threshold: float, look: Look) -> list[str]:
    """What to mind about a figure whose threshold a person set."""
    return [
        f"Threshold set by hand: whatever is at least {threshold_words(threshold, look)} counts, "
        "and nothing was turned down for its look. The interval covers what was counted at this "
        "threshold only, not whether it is the right one."
    ]


def _same_place(light: RatioImage, repeats: list[Vector]) -> RatioImage:
    """The middle of the same place in the neighbouring repeats of the weave."""
    if len(repeats) == 1:
        repeats = [repeats[0], (2 * repeats[0][0], 2 * repeats[0][1])]
    (first, second), (third, fourth) = (
        (_moved(light, dy, dx), _moved(light, -dy, -dx)) for dy, dx in repeats
    )
    low = cv2.max(cv2.min(first, second), cv2.min(third, fourth))
    high = cv2.min(cv2.max(first, second), cv2.max(third, fourth))
    return cv2.addWeighted(low, 0.5, high, 0.5, 0)


def _moved(light: RatioImage, dy: int, dx: int) -> RatioImage:
    """Each pixel replaced by the one a repeat further on; at the edge by one on the other side."""
    out = light.copy()
    for times in (-2, 1):
        down, across = times * dy, times * dx
        rows, columns = (
            max(0, n - abs(by)) for n, by in zip(light.shape, (down, across), strict=True)
        )
        if not rows or not columns:
            continue
        to = (
            slice(max(0, -down), max(0, -down) + rows),
            slice(max(0, -across), max(0, -across) + columns),
        )
        of = (
            slice(max(0, down), max(0, down) + rows),
            slice(max(0, across), max(0, across) + columns),
        )
        out[to] = light[of]
    return out


def _is_calmer(surface: Surface, around: RatioImage) -> bool:
    some = (slice(None, None, 5), slice(None, None, 5))
    held = surface.inspected[some]
    own = surface.smooth[some][held].astype(np.float32)
    return _scatter(own / np.maximum(around[some][held], 1)) < (1 - CALMER) * _scatter(own / ONE)


def _scatter(values: NDArray[np.float32]) -> float:
    return float(np.median(np.abs(values - np.median(values))))
