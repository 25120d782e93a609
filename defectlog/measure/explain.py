"""How a figure came about: the pictures and numbers of each step, by the functions that measure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure import hand_set
from defectlog.measure.arrays.light import (
    GAMMA,
    ONE,
    BoolImage,
    FloatImage,
    GreyImage,
    as_ratio,
    grey_of,
    inverse_of,
    linear_light,
)
from defectlog.measure.arrays.look import Look
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.cloth.unweave import unwoven
from defectlog.measure.explain_cloth import ClothSeen, see_cloth
from defectlog.measure.hand_set import step_of
from defectlog.measure.lengths.region import Region, inspected_region
from defectlog.measure.lengths.scale import Polygon, Scale
from defectlog.measure.search.close_by import to_what_is_near

LONG_SIDE_PX = 1200
SAMPLE_PX = 500_000
# The histogram: log contrast from darker to lighter, in bins of even width.
FURTHEST = 2.0
BINS = 100


@dataclass(frozen=True, slots=True)
class Explanation:
    """The steps from a photo to its voids, as pictures no longer than 1200 px.

    ``grey`` is the photo; ``light`` the light that fell on the surface and ``even`` the
    surface with that light taken out, both as grey values; ``standing_out`` is how far each
    spot lies off the surface round it, towards voids, as a share of the threshold (1 is at
    it). ``beyond`` is True where it lies past the threshold; ``wanted`` is the region without
    cards and ``inspected`` what of it could be judged. What lies below ``1 / long side`` of
    the picture still shows in ``beyond``: shrinking makes no spot vanish. ``cloth`` are the
    maps that patches are looked for on, None where a person set the threshold.

    ``light_low`` and ``light_high`` are the 2nd and 98th hundredth of the light, as a share
    of its middle; ``scatter`` is the robust standard deviation of the evened surface and
    ``threshold`` the contrast a void starts at, both as shares of the light, and ``reach`` the
    same in log units; ``counts`` are pixels in bins of the log contrast between ``edges``,
    negative is darker. ``candidates`` counts the spots past the threshold. ``is_bare`` is whether
    the weave was taken out before anything was said to stand out, ``near_mm`` over how much each
    spot was compared with what lies close by, 0 if it was not.
    """

    grey: GreyImage
    light: GreyImage
    even: GreyImage
    standing_out: FloatImage
    beyond: BoolImage
    wanted: BoolImage
    inspected: BoolImage
    light_low: float
    light_high: float
    scatter: float
    threshold: float | None
    reach: float | None
    look: Look | None
    edges: tuple[float, ...]
    counts: tuple[int, ...]
    candidates: int
    cloth: ClothSeen | None
    is_bare: bool = False
    near_mm: float = 0.0


def explain(
    image: NDArray[np.uint8],
    *,
    region: Region | None,
    scale: Scale,
    look: Look | None,
    threshold: float | None,
    by_hand: bool = False,
    near_mm: float = 0.0,
    fainter: bool = False,
    leave_out: Sequence[Polygon] = (),
    counted: BoolImage | None = None,
) -> Explanation:
    """Go through the steps of a measurement again and keep what each of them made.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue, uint8, upright
    region, scale : as they were given to ``measure_voids``
    look, threshold : as the measurement has them; None where no void was found
    by_hand : whether a person set the threshold
    near_mm : over how much what lies close by was compared, if voids were told by that
    fainter : whether the weave was taken out for voids fainter than the tones of cloth
    leave_out : outlines that were not inspected
    counted : (M, N) bool, the voids that were counted, if they are known

    Returns
    -------
    Explanation

    Raises
    ------
    NoContrastError, NothingInspectedError, RegionError
        As ``measure_voids``.
    """
    grey = grey_of(image)
    wanted = inspected_region(region, grey.shape, scale.card_outlines, leave_out)
    surface = prepare(grey, wanted, scale.px_per_mm)
    bare = None
    if look is not None and not by_hand and not near_mm:
        tails = tails_of(surface, "auto")
        cloth = unwoven(surface, tails, faint=fainter)
        bare = cloth.bare(look)[look] if cloth is not None and look in cloth.told else None
    calm_light = surface.smooth if bare is None else bare.smooth
    if near_mm:
        calm_light = to_what_is_near(surface, window_mm=near_mm)
    if bare is not None and bare.is_inverse:
        calm_light = inverse_of(calm_light)
    size = _small(grey.shape)
    if bare is not None:
        surface = surface.within(bare.inspected)
    inspected = _shrunk(surface.inspected.view(np.uint8) * np.uint8(255), size) >= 128
    even = as_ratio(_shrunk(surface.ratio, size))
    # What came from the surface is the light on it times what the surface gives back of it.
    light = np.where(inspected, _shrunk(linear_light(grey), size) / np.maximum(even, 1e-3), 0)
    middle = float(np.median(light[inspected]))
    low, high = (float(q) / middle for q in np.quantile(light[inspected], (0.02, 0.98)))

    step = max(1, math.isqrt(calm_light.size // SAMPLE_PX))
    sample = calm_light[::step, ::step][surface.inspected[::step, ::step]]
    values = _log(as_ratio(sample))
    scatter = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    edges = np.linspace(-FURTHEST, FURTHEST, BINS + 1)
    counts, _ = np.histogram(np.clip(values, -FURTHEST, FURTHEST), edges)

    standing = np.zeros(even.shape, dtype=np.float32)
    beyond = np.zeros(calm_light.shape, dtype=bool)
    # A share of the light, missing or added, in the log units it was found in.
    reach = None if threshold is None else -math.log(1 - threshold)
    if reach is not None:
        calm = _log(as_ratio(_shrunk(calm_light, size)))
        standing = (calm if look == "bright" else -calm) / np.float32(reach)
        level = ONE * math.exp(reach if look == "bright" else -reach)
        beyond = calm_light > level if look == "bright" else calm_light < level
        if by_hand and look is not None and threshold is not None:
            beyond = hand_set.beyond(hand_set.levels_of(surface, look)[0], step_of(threshold))
        beyond &= surface.inspected
    candidates = cv2.connectedComponents(beyond.view(np.uint8), connectivity=8)[0] - 1
    return Explanation(
        grey=_shrunk(grey, size),
        light=_grey_values(0.8 * light / max(float(light.max()), 1e-6)),
        even=_grey_values(0.35 * even),
        standing_out=standing,
        beyond=_shrunk(beyond.view(np.uint8) * np.uint8(255), size) > 0,
        wanted=_shrunk(wanted.view(np.uint8) * np.uint8(255), size) >= 128,
        inspected=inspected,
        light_low=low,
        light_high=high,
        scatter=scatter,
        threshold=threshold,
        reach=reach,
        look=look,
        edges=tuple(float(edge) for edge in edges),
        counts=tuple(int(count) * step**2 for count in counts),
        candidates=int(candidates),
        cloth=None
        if by_hand
        else see_cloth(surface, beyond, size, counted=_worked(counted, beyond.shape)),
        is_bare=bare is not None,
        near_mm=near_mm,
    )


def _worked(counted: BoolImage | None, shape: tuple[int, int]) -> BoolImage | None:
    """What was counted, at the size that is worked at."""
    if counted is None or counted.shape == shape:
        return counted
    return cv2.resize(counted.view(np.uint8), shape[::-1], interpolation=cv2.INTER_AREA) > 0


def _small(shape: tuple[int, ...]) -> tuple[int, int]:
    """Width and height no longer than the long side allows."""
    factor = min(1.0, LONG_SIDE_PX / max(shape))
    return max(1, round(shape[1] * factor)), max(1, round(shape[0] * factor))


def _shrunk(values: NDArray[Any], size: tuple[int, int]) -> NDArray[Any]:
    return cv2.resize(values, size, interpolation=cv2.INTER_AREA)


def _log(ratio: FloatImage) -> FloatImage:
    return np.log(np.maximum(ratio, np.float32(1e-3)))


def _grey_values(light: FloatImage) -> GreyImage:
    """Light back to grey values as a camera stores them."""
    return np.round(np.clip(light, 0, 1) ** (1 / GAMMA) * 255).astype(np.uint8)
