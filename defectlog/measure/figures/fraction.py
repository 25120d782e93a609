"""The void area fraction: how far to trust it, and how it spreads over the part."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.student import student_quantile
from defectlog.measure.arrays.threshold import TWO_TONE
from defectlog.measure.cloth.surface import NothingInspectedError

FIELDS = (5, 5)
# A region that lies in fewer of the picture's fields than such a share has fields of its own.
SHARE_OF_FIELDS = 0.3
# Chosen on three kinds of rendered surfaces so that the interval holds the truth on 95 to 99 of a
# hundred pictures of each; README says on how many of others it does.
# All sizes may be off by so much of the area, half of it of their diameters; those of bright voids,
# whose edges the cloth that shows through them widens, by more.
SIZES_OFF, BRIGHT_OFF = 0.005, 0.03
# Each by itself may be off by so much of its own, which evens out over many.
EACH_OFF = 0.03
# Cloth that only just counts as void runs on further beyond the threshold: so much in all.
RUNS_ON = 2.0
# What was too faint is of the voids only as far as others only just count: so many times these. And
# so many times as much as counts so may lie below the threshold, whatever was seen there.
OF_THE_VOIDS, BELOW = 2.0, 1.5
# Voids that lie where resin shows, and are no stronger, are taken for it: so many times what
# counts of these elsewhere.
FOR_RESIN = 2.0
# Where noise makes specks it frays the outlines of voids as well, and hides the smallest of them:
# so much of the area of the specks is unsure to either side.
OF_NOISE = 0.4
# What remains unsure on any picture, as a fraction: false specks to the one side, and to the
# other voids that were not seen. Where none was found, none says how strong voids are here.
FALSE, UNSEEN, NONE_SEEN = 0.0002, 0.0003, 0.0010
# On two-tone cloth outlines run on into dark tows and gaps, and voids no darker than these are
# not seen at all: by so much for each log unit of light that its tows differ by beyond others'.
CLOTH_OFF, CLOTH_HIDES = 0.6, 0.01


@dataclass(frozen=True, slots=True)
class AreaFraction:
    """Mean share of void over the fields of a surface, with its 95 % interval, 0–1."""

    value: float
    low: float
    high: float
    void_px: int
    inspected_px: int
    fields: int


def measuring_interval(
    value: float,
    unsure: float,
    *,
    each: float = 0.0,
    swing: float = 0.0,
    barely: float = 0.0,
    faint: float = 0.0,
    resin: float = 0.0,
    as_weak: float = 0.0,
    hidden: float = 0.0,
    noise: float = 0.0,
    is_bright: bool = False,
) -> tuple[float, float]:
    """The 95 % interval of one measured fraction.

    Parameters
    ----------
    value : the fraction measured, 0–1
    unsure : share of the surface that outlines and blur may be off by
    each : the root of the sum of the squares of all areas, as a share of the surface
    swing : log units of light the surface goes by itself
    barely : the part of ``value`` that only just counts
    faint : share of the surface that was taken for cloth because it is fainter than the voids
    resin : share of the surface that was taken for resin between tows
    as_weak : the part of ``value`` that is no stronger than this resin
    hidden : share of the surface that may be voids which its cloth hides, or too faint to count
    noise : share of the surface that was taken for specks of noise
    is_bright : whether the voids are brighter than the surface

    Returns
    -------
    low, high : fractions within 0–1; ``high`` is above 0 even where no void was found

    Notes
    -----
    In root-sum-square to either side: what outlines and blur are off by, all sizes by 0.5 % of
    their area, of bright voids by 3 %, and each by itself by 3 %; what false specks may have added
    or unseen voids lacked on any picture; and what the voids of this one tell of both. Their
    contrasts are cut off at the threshold. What only just counts may be cloth, with some that runs
    on. As much void may lie just below, and half as much again, or beside it what was seen of it
    and found too faint: that is cloth, but for its tail, where hardly any void is so weak, and may
    be all void where none counts. Resin between tows may be void as well, where voids no stronger
    than it count. Beside all that there is what cloth may hide.
    Outlines and unseen voids weigh more where the surface swings as two-tone cloth does. Rendered
    surfaces set the constants; a photo may be worse.
    """
    two_tone = max(0.0, swing - TWO_TONE)
    sizes = BRIGHT_OFF if is_bright else SIZES_OFF
    outlines = math.hypot(
        unsure, sizes * value, EACH_OFF * each, CLOTH_OFF * two_tone * value, OF_NOISE * noise
    )
    unseen, below = NONE_SEEN, faint
    if value > 0:
        unseen, seen = UNSEEN, min(faint, OF_THE_VOIDS * barely)
        below = max(seen + (barely + seen), BELOW * barely)
    low = value - math.hypot(outlines, FALSE, RUNS_ON * barely)
    unseen += CLOTH_HIDES * two_tone
    high = value + math.hypot(outlines, unseen, below, min(resin, FOR_RESIN * as_weak), hidden)
    return max(0.0, low), min(1.0, high)


def area_fraction(
    voids: BoolImage, inspected: BoolImage, *, grid: tuple[int, int] = FIELDS
) -> AreaFraction:
    """Estimate how the void fraction of the whole part may differ from this surface's.

    Parameters
    ----------
    voids : (M, N) bool array, True where a pixel belongs to a void
    inspected : (M, N) bool array, True where the surface could be judged
    grid : fields down and across, of the picture, or of a region that takes up little of it;
        fields without inspected surface are left out

    Returns
    -------
    AreaFraction

    Raises
    ------
    NothingInspectedError
        If fewer than two fields hold inspected surface.

    Notes
    -----
    Half-width t(0.975, n - 1) s / sqrt(n) over n fields, in the manner of ASTM E562; s is
    that of a ratio, so that a sliver of a field weighs little (Cochran, Sampling
    Techniques, 3rd ed. 1977, ch. 6). It answers another question than the error of
    measuring, and is never mixed with it. Voids gather, and neighbouring fields are then
    alike: with r the correlation of neighbours, n fields are worth n (1 - r) / (1 + r).
    """
    if voids.shape != inspected.shape:
        raise ValueError(f"voids {voids.shape} and inspected {inspected.shape} differ in shape")
    if inspected.all():
        void_px = _field_sums(voids, grid)
        rows, columns = (
            [len(part) for part in np.array_split(np.arange(size), cuts)]
            for size, cuts in zip(inspected.shape, grid, strict=True)
        )
        surface_px = np.outer(rows, columns).ravel().astype(np.float64)
    else:
        surface_px, void_px = in_two(
            lambda image: _field_sums(image, grid), inspected, voids & inspected
        )
    n = int(np.count_nonzero(surface_px))
    if n < SHARE_OF_FIELDS * surface_px.size:
        left, top, wide, high = cv2.boundingRect(inspected.view(np.uint8))
        if 0 < wide * high < inspected.size:
            own = slice(top, top + high), slice(left, left + wide)
            return area_fraction(voids[own], inspected[own], grid=grid)
    if n < 2:
        raise NothingInspectedError(int(surface_px.sum()))
    value = float(void_px.sum() / surface_px.sum())
    misfit = void_px - value * surface_px  # 0 for a field without surface
    spread = math.sqrt(float(np.sum(misfit**2)) / (n - 1)) * n / float(surface_px.sum())
    alike = _neighbours_alike(misfit.reshape(grid), surface_px.reshape(grid))
    widened = math.sqrt((1 + alike) / (1 - alike))
    half_width = student_quantile(n - 1) * spread / math.sqrt(n) * widened
    return AreaFraction(
        value=value,
        low=max(0.0, value - half_width),
        high=min(1.0, value + half_width),
        void_px=int(void_px.sum()),
        inspected_px=int(surface_px.sum()),
        fields=n,
    )


def _neighbours_alike(misfit: NDArray[np.float64], surface_px: NDArray[np.float64]) -> float:
    """Correlation of fields side by side or one above the other, 0 to 0.8."""
    held = surface_px > 0
    spread = float(np.sum(misfit**2)) / max(int(np.count_nonzero(held)), 1)
    if spread == 0:
        return 0.0
    products, pairs = 0.0, 0
    for first, second in (
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ):
        products += float(np.sum(misfit[first] * misfit[second]))
        pairs += int(np.count_nonzero(held[first] & held[second]))
    # Pairs as many as these correlate by chance; only what goes beyond it counts.
    alike = products / max(pairs, 1) / spread - 1 / math.sqrt(max(pairs, 1))
    return min(max(alike, 0.0), 0.8)


def _field_sums(image: BoolImage, grid: tuple[int, int]) -> NDArray[np.float64]:
    bands = np.array_split(image.view(np.uint8), grid[0], axis=0)
    fields = [field for band in bands for field in np.array_split(band, grid[1], axis=1)]
    return np.array([cv2.countNonZero(field) for field in fields], dtype=np.float64)
