"""Patches some tows wide that are no further off than a single tow, but off as a whole.

Dry cloth may be no paler and no darker than the weave's own swing. What gives it away is
that the cloth differs on the average over several tows, or has lost its swing, that it does so
from one tow to the next, all round, and that nowhere else on the surface it does.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache, partial

import cv2
import numpy as np

from defectlog.measure.arrays.halves import both
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.cloth.cloth_maps import SAMPLED, Cells, ClothMap, cloth_maps
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.patches.asked import (
    DARKER,
    LIKELY,
    LIKELY_PALE,
    LIKELY_SWING,
    LOBE,
    SURE,
    SURE_PALE,
    SURE_SWING,
    is_clear,
    is_met,
)
from defectlog.measure.patches.elsewhere import elsewhere
from defectlog.measure.patches.fading import fades_out, without_weave
from defectlog.measure.patches.halfway import largest_of
from defectlog.measure.patches.mirrored import is_pale_beyond, seen_through
from defectlog.measure.patches.patch_outlines import LEAST_MM2, Candidate, candidates

# Cells the surface is looked at in: fine enough for a tow's swing, and some of them joined
# for what is averaged over tows; no more of either than a large picture can spare time for.
FINE_MM, COARSE_MM = 0.25, 0.6
FINE_CELLS, COARSE_CELLS = 400_000, 60_000
# Of the few places that are looked at at once so many are patches: there may be more, so far off.
MANY, CLEAR_MM = 3, 2.0
# So near to a patch a lobe of it may be.
BESIDE_MM = 12.0
# Outlines that share so much of the smaller are of one patch. One that was drawn without what is
# mirrored is the better if it steps so many times as far.
MOSTLY, FURTHER = 0.3, 1.2
# How far off the outline may be, in mm: by the grain of the cloth it is drawn on, the more of it
# the weaker the step is; and where cloth has only lost its swing.
OFF_MM_BY_STEP, SWING_OFF_MM = 0.12, 0.8

# What swings like the cloth about it and steps by less than this in tone, in log units, may be a
# place where cloth happens to be pale: that no other is like it says little on a surface that has
# not room for so many of its size.
LEAST_STEP, LEAST_SWING, ROOM_FOR = 0.2, 0.1, 60
# Light that is added leaves the swing of cloth as it is, so of the tone it takes as much as it
# gives: what is paler by what its swing has lost, but for such a share, may be mirrored light.
AS_MIRRORED = 0.25

# An outline, whether it surely is that of a patch, and the map and the side of it that it is on.
Standing = tuple[bool, Candidate, ClothMap, int]


@dataclass(frozen=True, slots=True)
class Patch:
    """A patch that differs as a whole.

    ``mask`` is its window of the worked picture, from ``top`` and ``left`` on; ``tone`` is
    how far its light lies off, in log units, above 0 where it is paler; ``swing`` the same of
    the cloth's swing; ``unsure_px`` the area by which its outline may be off. ``is_sure`` says
    whether it stands out as no sound surface does; else it only may be one. ``is_clear`` is
    whether it does so whatever lies beside it.
    """

    mask: BoolImage
    top: int
    left: int
    tone: float
    swing: float
    unsure_px: float
    is_sure: bool
    is_clear: bool = False

    @property
    def area_px(self) -> int:
        """Pixels it covers."""
        return int(np.count_nonzero(self.mask))


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
    fine_px, times = cell_sizes(surface)
    cell_px = fine_px * times
    tone, swing, cells = cloth_maps(surface, voids, fine_px, times)
    if np.count_nonzero(cells.held) * cells.mm**2 < 20 * LEAST_MM2:
        return ()
    bare = cache(partial(without_weave, cells))

    def fades(found: Candidate) -> bool:
        return fades_out(found, tone, bare())

    def standing_out(*ways: tuple[ClothMap, int]) -> list[Standing]:
        return [
            (sure, found, chart, sign)
            for chart, sign in ways
            for found, sure in _standing_out(chart, sign, cells, fades, is_tone=chart is tone)
        ]

    first, (second, seen) = both(
        lambda: standing_out((swing, -1), (tone, 1)),
        lambda: (standing_out((tone, -1)), seen_through(tone, swing, cells, fades)),
    )
    standing = _with_seen(first + second, seen, tone, swing, cells)
    # Of two outlines of one patch, the wider has all of it.
    standing.sort(key=lambda one: (not one[0], -np.count_nonzero(one[1].cells)))
    taken = np.zeros_like(cells.held)
    patches = []
    for sure, found, chart, sign in standing:
        if (taken[found.where] & found.cells).sum() > MOSTLY * found.cells.sum():
            continue
        taken[found.where] |= found.cells
        patches.append(_patch(found, chart, sign, tone, swing, cells, cell_px, voids.shape, sure))
    return tuple(sorted(patches, key=lambda patch: (not patch.is_sure, -patch.area_px)))


def cell_sizes(surface: Surface) -> tuple[int, int]:
    """Pixels along a fine cell of the maps of the cloth, and fine cells along a coarse one."""
    mm, area = surface.px_per_mm, surface.inspected.size
    fine_px = max(2, round(FINE_MM * mm), int(np.ceil((area / FINE_CELLS) ** 0.5)))
    if fine_px > SAMPLED:
        fine_px = -(-fine_px // SAMPLED) * SAMPLED
    times = max(2, round(COARSE_MM * mm / fine_px))
    return fine_px, max(times, int(np.ceil((area / COARSE_CELLS) ** 0.5 / fine_px)))


def _standing_out(
    chart: ClothMap,
    sign: int,
    cells: Cells,
    fades: Callable[[Candidate], bool],
    *,
    is_tone: bool,
) -> list[tuple[Candidate, bool]]:
    """The outlines that are of patches, and whether they surely are."""
    sure, likely = (SURE, LIKELY) if is_tone else (SURE_SWING, LIKELY_SWING)
    is_pale = is_tone and sign > 0
    if is_pale:
        sure, likely = SURE_PALE, LIKELY_PALE
    more = DARKER if is_tone and sign < 0 else 0.0
    met = partial(is_met, chart=chart, more=more)
    standing, others = [], []
    known = np.zeros_like(cells.held)
    least = more + min(one.step for one in (*sure, *likely))
    # The strongest first: what the weaker ones are held against is the surface beside these.
    for found in _strongest_first(chart, sign, cells, known, least=least, anew=is_tone):
        if found.is_mostly_hidden:
            continue
        there = cache(partial(elsewhere, found, chart, sign, cells.held, known))
        is_soft = cache(partial(fades, found)) if is_pale else bool
        if not (found.is_compact and met(found, sure, there=there) and not is_soft()):
            may_be = found.is_compact and met(found, likely, there=there) and not is_soft()
            others.append((found, may_be))
        elif found.is_in_the_open:
            standing.append((found, True))
            known[found.where] |= found.cells
        else:
            standing.append((found, False))
    near = _beside(known, cells.mm) if is_tone and known.any() else None
    for found, may_be in others:
        is_lobe = near is not None and _is_lobe(found, near, chart, sign, cells.held, known)
        if is_lobe or may_be:
            standing.append((found, is_lobe))
    return standing


def _with_seen(
    standing: list[Standing],
    seen: list[Candidate],
    tone: ClothMap,
    swing: ClothMap,
    cells: Cells,
) -> list[Standing]:
    """Outlines, with those seen only without what is mirrored in place of what these show better.

    An outline that follows a pane of light over a patch and beside it steps by less.
    """
    for found in seen:
        rivals = [
            one
            for one in standing
            if one[2] is tone and one[3] > 0 and _overlap(one[1], found, tone.own.shape) > MOSTLY
        ]
        if all(
            not sure
            or found.step + found.round > FURTHER * (one.step + one.round)
            and not is_pale_beyond(found, one, tone, swing, cells)
            for sure, one, _, _ in rivals
        ):
            rest = [one for one in standing if not any(one is rival for rival in rivals)]
            standing = [*rest, (True, found, tone, 1)]
    return standing


def _overlap(one: Candidate, other: Candidate, shape: tuple[int, ...]) -> float:
    """Cells of a map that two outlines share, over those of the smaller."""
    cells = np.zeros((2, *shape), dtype=bool)
    cells[0][one.where], cells[1][other.where] = one.cells, other.cells
    fewer = min(np.count_nonzero(one.cells), np.count_nonzero(other.cells))
    return np.count_nonzero(cells.all(axis=0)) / max(fewer, 1)


def _strongest_first(
    chart: ClothMap, sign: int, cells: Cells, known: BoolImage, *, least: float, anew: bool
) -> Iterator[Candidate]:
    """Candidates; and as long as many of them become ``known`` patches, those of the rest."""
    size = (2 * round(CLEAR_MM / cells.mm) + 1,) * 2
    rest, before = cells, 0
    while True:
        yield from sorted(
            candidates(chart, sign, rest, least=least, anew=anew), key=lambda one: -one.step
        )
        count = cv2.connectedComponents(known.view(np.uint8))[0] - 1
        if count < before + MANY:
            return
        before = count
        near = cv2.dilate(known.view(np.uint8), np.ones(size, np.uint8)).view(np.bool_)
        rest = replace(cells, held=cells.held & ~near)


def _beside(known: BoolImage, cell_mm: float) -> BoolImage:
    """The surface so near to a patch that a lobe of it may be there."""
    reach = 2 * round(BESIDE_MM / cell_mm) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    return cv2.dilate(known.view(np.uint8), brush).view(np.bool_)


def _is_lobe(
    found: Candidate,
    near: BoolImage,
    chart: ClothMap,
    sign: int,
    held: BoolImage,
    known: BoolImage,
) -> bool:
    """Whether it is a smaller part of the patches that are known."""
    return (
        bool((near[found.where] & found.cells).any())
        and np.count_nonzero(found.cells) < np.count_nonzero(known)
        and found.is_in_the_open
        and is_met(found, LOBE, chart, partial(elsewhere, found, chart, sign, held, known))
    )


def _patch(
    found: Candidate,
    chart: ClothMap,
    sign: int,
    tone: ClothMap,
    swing: ClothMap,
    cells: Cells,
    cell_px: int,
    shape: tuple[int, int],
    sure: bool,
) -> Patch:
    """The candidate in pixels: its outline halfway, drawn on the averaged surface."""
    rows, columns = found.where
    above = found.above
    if above is None:
        # Halfway in the square of the swing is a third of the way in its logarithm.
        about = cv2.dilate(found.cells.view(np.uint8), np.ones((5, 5), np.uint8))
        near = sign * chart.near[found.where] - np.float32(0.3 * found.height)
        above = np.where(about > 0, near, np.float32(-1))
    size = (above.shape[1] * cell_px, above.shape[0] * cell_px)
    mask = cv2.resize(above, size, interpolation=cv2.INTER_LINEAR) > 0
    core = cv2.resize(found.cells.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    within = largest_of(mask, core)
    mask = core if within is None else within
    top, left = rows.start * cell_px, columns.start * cell_px
    mask = np.ascontiguousarray(mask[: shape[0] - top, : shape[1] - left])
    outlines, _ = cv2.findContours(mask.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    inside = found.cells & cells.held[found.where]
    off_mm = SWING_OFF_MM if found.above is None else OFF_MM_BY_STEP / found.step
    off, swung = (float(one.wide[found.where][inside].mean()) for one in (tone, swing))
    is_rare = ROOM_FOR * np.count_nonzero(inside) <= np.count_nonzero(cells.held)
    is_plain = is_clear(found) or abs(off + swung) >= AS_MIRRORED * off
    return Patch(
        mask=mask,
        top=top,
        left=left,
        tone=off,
        swing=swung,
        unsure_px=off_mm * cell_px / cells.mm * sum(cv2.arcLength(line, True) for line in outlines),
        is_sure=sure
        and is_plain
        and (found.step >= LEAST_STEP or abs(swung) >= LEAST_SWING or is_rare),
        is_clear=is_clear(found),
    )
