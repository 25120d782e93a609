"""Patches some tows wide that are no further off than a single tow, but off as a whole.

Dry cloth may be no paler and no darker than the weave's own swing. What gives it away is
that the cloth differs on the average over several tows, or has lost its swing, and that it
does so from one tow to the next, all round.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.cloth_maps import SAMPLED, ClothMap, cloth_maps
from defectlog.measure.light import BoolImage
from defectlog.measure.surface import Surface

# Cells the surface is looked at in: fine enough for a tow's swing, and some of them joined
# for what is averaged over tows; no more of either than a large picture can spare time for.
FINE_MM, COARSE_MM = 0.25, 0.6
FINE_CELLS, COARSE_CELLS = 400_000, 60_000
# Candidates start where the average is so many robust deviations off.
SEED_TONE, SEED_SWING = 3.0, 5.0
MOST = 5
LEAST_MM2 = 12.0
LARGEST_SHARE = 0.2
SHARES = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
RIM_MM = (0.3, 2.0)  # how far from the outline its two sides are compared
SECTORS = 12
# Sound surfaces reach steps of 0.16 in log light and, where they do, of less than 0.6 of the
# patch's own height or on some sides only; measured on rendered surfaces. Shadows are dark
# and dry cloth is pale: of a darker patch more is asked.
LEAST_STEP, LEAST_DARK_STEP, LEAST_ABRUPT, LEAST_ROUND = 0.165, 0.2, 0.6, 0.35
LEAST_OFF = 3.8
LEAST_SWING, LEAST_SWING_ABRUPT = 0.6, 0.55
LIKELY_STEP, LIKELY_ABRUPT, LIKELY_ROUND, LIKELY_OFF = 0.15, 0.55, 0.25, 2.6
PLAINLY_OFF = 5.0
THICK_MM, THICK_SWING_MM = 3.0, 1.8  # to the middle from the nearest side
FILLED, SLENDER = 0.5, 3.5
# How far off the outline may be, in mm: the grain of the cloth it is drawn on.
OUTLINE_OFF_MM = 0.8


@dataclass(frozen=True, slots=True)
class Patch:
    """A patch that differs as a whole.

    ``mask`` is its window of the worked picture, from ``top`` and ``left`` on; ``tone`` is
    how far its light lies off, in log units, above 0 where it is paler; ``swing`` the same of
    the cloth's swing; ``perimeter_px`` the length of its outline. ``is_sure`` says whether it
    stands out as no sound surface does; else it only may be one.
    """

    mask: BoolImage
    top: int
    left: int
    tone: float
    swing: float
    perimeter_px: float
    is_sure: bool

    @property
    def area_px(self) -> int:
        """Pixels it covers."""
        return int(np.count_nonzero(self.mask))


@dataclass(frozen=True, slots=True)
class _Candidate:
    where: tuple[slice, slice]
    cells: BoolImage
    height: float
    step: float
    round: float
    sectors: int
    thick_mm: float
    filled: float
    slender: float
    deviations: float

    @property
    def is_compact(self) -> bool:
        return self.filled > FILLED and self.slender < SLENDER and self.sectors >= SECTORS - 2


def find_patches(surface: Surface, voids: BoolImage) -> tuple[Patch, ...]:
    """Find patches that differ from the cloth around them as a whole.

    Parameters
    ----------
    surface : evenly lit
    voids : (M, N) bool, what is known of already and does not count here

    Returns
    -------
    Patches of a few tows and more, the surest first; they do not overlap.
    """
    mm = surface.px_per_mm
    fine_px = max(2, round(FINE_MM * mm), int(np.ceil((voids.size / FINE_CELLS) ** 0.5)))
    if fine_px > SAMPLED:
        fine_px = -(-fine_px // SAMPLED) * SAMPLED
    times = max(2, round(COARSE_MM * mm / fine_px))
    times = max(times, int(np.ceil((voids.size / COARSE_CELLS) ** 0.5 / fine_px)))
    cell_px = fine_px * times
    cell_mm = cell_px / mm
    tone, swing, held = cloth_maps(surface, voids, fine_px, times)
    if np.count_nonzero(held) * cell_mm**2 < 20 * LEAST_MM2:
        return ()
    taken = np.zeros_like(held)
    patches = []
    for chart, sign, is_tone in ((swing, -1, False), (tone, 1, True), (tone, -1, True)):
        for found in _candidates(chart, sign, held, cell_mm, SEED_TONE if is_tone else SEED_SWING):
            sure = _is_sure(found, chart, sign, is_tone)
            if not sure and not (is_tone and _is_likely(found, chart)):
                continue
            if (taken[found.where] & found.cells).sum() > 0.3 * found.cells.sum():
                continue
            taken[found.where] |= found.cells
            patches.append(
                _patch(found, chart, sign, tone, swing, held, cell_px, voids.shape, sure, is_tone)
            )
    return tuple(sorted(patches, key=lambda patch: (not patch.is_sure, -patch.area_px)))


def _is_sure(found: _Candidate, chart: ClothMap, sign: int, is_tone: bool) -> bool:
    if not found.is_compact:
        return False
    abrupt, all_round = found.step / found.height, found.round / found.height
    if is_tone:
        return (
            found.step >= (LEAST_STEP if sign > 0 else LEAST_DARK_STEP) + chart.tows_step
            and abrupt >= LEAST_ABRUPT
            and all_round >= LEAST_ROUND
            and found.thick_mm >= THICK_MM
            and found.deviations >= LEAST_OFF
        )
    return (
        found.height >= LEAST_SWING
        and abrupt >= LEAST_SWING_ABRUPT
        and all_round >= LEAST_ROUND
        and found.thick_mm >= THICK_SWING_MM
        and found.deviations >= 8.0
    )


def _is_likely(found: _Candidate, chart: ClothMap) -> bool:
    abrupt, all_round = found.step / found.height, found.round / found.height
    return (
        found.is_compact
        and found.step >= LIKELY_STEP + chart.tows_step
        and abrupt >= LIKELY_ABRUPT
        and found.thick_mm >= THICK_MM
        and found.deviations >= LIKELY_OFF
        and (all_round >= LIKELY_ROUND or found.deviations >= PLAINLY_OFF)
    )


def _candidates(
    chart: ClothMap, sign: int, held: BoolImage, cell_mm: float, seed: float
) -> list[_Candidate]:
    """Where the average is far off, each outlined where the step across is largest."""
    off = sign * chart.wide
    seeds = ((off > seed * chart.spread) & held).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(seeds)
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA], kind="stable")[:MOST] + 1
    taken = np.zeros_like(held)
    found = []
    for k in order.tolist():
        if stats[k, cv2.CC_STAT_AREA] * cell_mm**2 < LEAST_MM2:
            break
        own = labels == k
        if taken[own].any():
            continue
        best = _best_outline(chart, sign, own, held, cell_mm)
        if best is not None:
            taken[best.where] |= best.cells
            found.append(best)
    return found


def _best_outline(
    chart: ClothMap, sign: int, own: BoolImage, held: BoolImage, cell_mm: float
) -> _Candidate | None:
    near = sign * chart.near
    top = float(np.quantile(near[own], 0.6))
    reach = 2 * max(1, round(0.6 / cell_mm)) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    best = None
    for share in SHARES:
        level = ((near > share * top) & held).astype(np.uint8)
        level = cv2.morphologyEx(level, cv2.MORPH_CLOSE, brush)
        level = cv2.morphologyEx(level, cv2.MORPH_OPEN, brush)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(level)
        votes = np.bincount(labels[own])
        votes[0] = 0
        if not votes.any():
            continue
        k = int(votes.argmax())
        if stats[k, cv2.CC_STAT_AREA] > LARGEST_SHARE * level.size:
            continue
        judged = _judge(chart, sign, labels == k, stats[k], held, cell_mm)
        if judged is not None and (best is None or judged.step > best.step):
            best = judged
    return best


def _judge(
    chart: ClothMap,
    sign: int,
    cells: BoolImage,
    stats: NDArray[np.int32],
    held: BoolImage,
    cell_mm: float,
) -> _Candidate | None:
    """Compare both sides of an outline, as a whole and sector by sector."""
    margin = int(RIM_MM[1] / cell_mm) + 2
    left, top, width, height = (int(v) for v in stats[:4])
    where = (
        slice(max(0, top - margin), top + height + margin),
        slice(max(0, left - margin), left + width + margin),
    )
    filled = _filled(cells[where])
    own = sign * chart.own[where]
    to_side = cv2.distanceTransform(np.pad(filled, 1).view(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    from_side = cv2.distanceTransform((~filled).view(np.uint8), cv2.DIST_L2, 5)
    rims = []
    y, x = np.nonzero(filled)
    middle = (float(y.mean()), float(x.mean()))
    for far in (to_side, from_side):
        # A cell's middle lies half a cell from the outline that runs along its side.
        far = (far - 0.5) * cell_mm
        rows, columns = np.nonzero((far > RIM_MM[0]) & (far <= RIM_MM[1]) & held[where])
        turn = np.arctan2(rows - middle[0], columns - middle[1])
        sector = (turn / (2 * np.pi) * SECTORS).astype(np.int64) % SECTORS
        rims.append((own[rows, columns], sector))
    (inner, in_sector), (outer, out_sector) = rims
    if len(inner) < 8 or len(outer) < 8:
        return None
    counts = [np.bincount(sector, minlength=SECTORS) for _, sector in rims]
    both = (counts[0] > 1) & (counts[1] > 1)
    means = [
        np.bincount(sector, values, SECTORS) / np.maximum(count, 1)
        for (values, sector), count in zip(rims, counts, strict=True)
    ]
    steps = np.sort((means[0] - means[1])[both])
    deep = filled & (to_side * cell_mm > 0.5) & held[where]
    _, (wide, high), _ = cv2.minAreaRect(np.argwhere(filled).astype(np.float32))
    wide, high = wide + 1, high + 1
    return _Candidate(
        where=where,
        cells=filled,
        height=max(float(own[deep].mean()), 1e-3) if deep.any() else np.inf,
        step=float(inner.mean() - outer.mean()),
        round=float(steps[len(steps) // 6]) if len(steps) else 0.0,
        sectors=int(np.count_nonzero(both)),
        thick_mm=float(to_side.max()) * cell_mm,
        filled=float(len(y) / (wide * high)),
        slender=max(wide, high) / min(wide, high),
        deviations=float((sign * chart.wide[where])[deep].mean() / chart.spread)
        if deep.any()
        else 0.0,
    )


def _filled(cells: BoolImage) -> BoolImage:
    outlines, _ = cv2.findContours(cells.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    drawn = np.zeros(cells.shape, np.uint8)
    cv2.drawContours(drawn, outlines, -1, 1, -1)
    return drawn > 0


def _patch(
    found: _Candidate,
    chart: ClothMap,
    sign: int,
    tone: ClothMap,
    swing: ClothMap,
    held: BoolImage,
    cell_px: int,
    shape: tuple[int, int],
    sure: bool,
    is_tone: bool,
) -> Patch:
    """The candidate in pixels: its outline halfway, drawn on the averaged surface."""
    rows, columns = found.where
    near = sign * chart.near[found.where]
    # Halfway in the square of the swing is a third of the way in its logarithm. Averaging draws
    # the outline of a ragged or small patch in: a little below halfway makes up for it.
    level = (0.43 if is_tone else 0.3) * found.height
    about = cv2.dilate(found.cells.view(np.uint8), np.ones((5, 5), np.uint8))
    drawn = np.where(about > 0, near - level, np.float32(-1)).astype(np.float32)
    size = (drawn.shape[1] * cell_px, drawn.shape[0] * cell_px)
    mask = cv2.resize(drawn, size, interpolation=cv2.INTER_LINEAR) > 0
    _, labels = cv2.connectedComponents(mask.view(np.uint8))
    core = cv2.resize(found.cells.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    votes = np.bincount(labels[core], minlength=2)
    votes[0] = 0
    mask = _filled(labels == int(votes.argmax()))
    top, left = rows.start * cell_px, columns.start * cell_px
    mask = np.ascontiguousarray(mask[: shape[0] - top, : shape[1] - left])
    outlines, _ = cv2.findContours(mask.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    inside = found.cells & held[found.where]
    return Patch(
        mask=mask,
        top=top,
        left=left,
        tone=float(tone.wide[found.where][inside].mean()),
        swing=float(swing.wide[found.where][inside].mean()),
        perimeter_px=sum(cv2.arcLength(line, True) for line in outlines),
        is_sure=sure,
    )
