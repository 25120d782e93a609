"""Where cloth may change as a whole: outlines drawn on it, and what lies on their two sides."""

from dataclasses import dataclass, replace
from itertools import compress, repeat

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage, FloatImage
from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.cell_weave import comes_again
from defectlog.measure.cloth.cloth_maps import OUTLINE_MM, Cells, ClothMap, averaged
from defectlog.measure.patches.halfway import filled, framed, in_rim, outlined_halfway, to_outline

# Outlines are level lines of the averaged cloth, at so many robust deviations of it: a weak
# patch on a surface of slow gleams stands no higher than these, a strong one beside a gleam is
# only told from it further up.
LEVELS = (1.0, 1.4, 1.9, 2.6, 3.5, 4.7, 6.4, 8.7, 12.0)
# Averaged over 1.5 mm, a disc of 3 mm about its middle rises to 0.86 of its step: what rises by
# less is no patch. Its outline runs halfway up: lines far below that are those of gleams.
RISES, LOWEST = 0.6, 0.15
PLACES = 5
VARIANTS = 2  # outlines around one place that are looked at closely,
NEARLY = 0.6  # the second only if it is nearly as steep
CLEARLY = 1.05  # the larger step taken where it is so much more
LEAST_MM2 = 12.0
LARGEST_SHARE = 0.2
SMOOTH_MM = 0.6
RIM_MM = (0.3, 2.0)  # how far from the outline its two sides are compared
SECTORS = 12
FILLED, SLENDER = 0.5, 3.5
BESIDE_HIDDEN, HIDDEN = 0.08, 0.2
DRAWN_ANEW = 0.09  # from this step on: of less nothing is a patch
CLEAR = 5  # cells across that a patch may run on into


@dataclass(frozen=True, slots=True)
class Candidate:
    """An outline in cells and what differs across it, towards the side that was asked for.

    ``cells`` is its window ``where`` of the maps; ``height`` the mean deep inside, ``step``
    that close inside less that close outside, ``round`` the same where all but a sixth of the
    outline reaches it, ``sectors`` the twelfths in which both sides were seen, ``hidden`` the
    share of it and its rim that can't be inspected, ``thick_mm`` from the middle to the nearest
    side, ``deviations`` the height in robust ones. ``above`` is how far each cell of the window
    is above halfway between the sides, if the outline was drawn by that.
    """

    where: tuple[slice, slice]
    cells: BoolImage
    rims: tuple[BoolImage, BoolImage]
    height: float
    step: float
    round: float
    sectors: int
    hidden: float
    thick_mm: float
    filled: float
    slender: float
    deviations: float
    above: FloatImage | None = None

    @property
    def abrupt(self) -> float:
        """The step as a share of the height: near 1 at a sharp edge, little at a soft one."""
        return self.step / self.height

    @property
    def all_round(self) -> float:
        """The step that nearly all of the outline reaches, as a share of the height."""
        return self.round / self.height

    @property
    def is_compact(self) -> bool:
        """Whether it is no band and no ragged net."""
        return self.filled > FILLED and self.slender < SLENDER

    @property
    def is_in_the_open(self) -> bool:
        """Whether it lies clear of glare, whose flank looks like a patch, and of the edge."""
        return self.hidden <= BESIDE_HIDDEN

    @property
    def is_mostly_hidden(self) -> bool:
        """Whether too much of it, or of what is around it, can't be seen to tell anything."""
        return self.hidden > HIDDEN


def candidates(
    chart: ClothMap, sign: int, cells: Cells, *, least: float, anew: bool = True
) -> list[Candidate]:
    """The level lines that the cloth changes most steeply and most evenly across.

    Parameters
    ----------
    chart : tone or swing of the cloth
    sign : 1 for what is above the cloth around, -1 for what is below
    cells : that show enough of the surface
    least : the step that is asked of a patch at least
    anew : whether what may be a patch is outlined anew, halfway between its sides

    Returns
    -------
    No more than five, that do not overlap, the steepest first.
    """
    if not rises(chart, sign, cells, least):
        return []
    places: list[tuple[list[Candidate], float]] = []
    place_of = np.zeros(cells.held.shape, np.uint8)  # whose each cell is, from 1
    for score, labels, k, stats in _level_lines(sign * chart.near, chart.spread, cells, least):
        if len(places) == PLACES and score < NEARLY * places[-1][1]:
            break  # too weak for any of the places, and so is all that follows
        left, top, width, height, _ = stats
        where = (slice(top, top + height), slice(left, left + width))
        own = labels[where] == k
        over = np.flatnonzero(np.bincount(place_of[where][own])[1:])
        if len(over) > 1 or (not len(over) and len(places) == PLACES):
            continue
        place = int(over[0]) if len(over) else len(places)
        if place == len(places):
            places.append(([], score))
        found, best = places[place]
        if len(found) == VARIANTS or score < NEARLY * best:
            continue
        judged = judge(chart, sign, *_in_window(labels, k, stats, cells.mm), cells)
        if judged is not None:
            found.append(judged)
            place_of[where][own] = place + 1
    best = [_better(*found) for found, _ in places if found]
    return _drawn_anew(best, chart, sign, cells) if anew else best


def rises(chart: ClothMap, sign: int, cells: Cells, least: float) -> bool:
    """Whether a map rises anywhere as far as a patch does that steps by ``least``."""
    return bool((sign * chart.near).max(where=cells.held, initial=0) >= RISES * least)


def _drawn_anew(found: list[Candidate], chart: ClothMap, sign: int, maps: Cells) -> list[Candidate]:
    """Candidates with their outlines halfway between their sides, where they may be patches."""
    strong = [one.step >= DRAWN_ANEW and one.is_compact for one in found]
    if not any(strong):
        return found
    patches = np.zeros_like(maps.held)
    for one in compress(found, strong):
        patches[one.where] |= one.cells
    smooth = _without_weave(chart, maps, patches)
    drawn = []
    for one, may_be in zip(found, strong, strict=True):
        where = one.where
        # What lies beside one patch and is of another is no cloth to compare it with.
        cloth = maps.held[where] & (one.cells | ~patches[where])
        near, own = sign * smooth.near[where], sign * smooth.own[where]
        anew = None
        if may_be and not one.is_mostly_hidden:
            anew = outlined_halfway(one.cells, near, own, cloth, maps.mm)
        if anew is not None:
            judged = judge(chart, sign, anew[0], where, maps) or one
            # A small one may run on into what is beside it: both outlines tell that it is there.
            one = replace(max(judged, one, key=lambda it: it.step + it.round), above=anew[1])
        drawn.append(one)
    return drawn


def _without_weave(chart: ClothMap, maps: Cells, patches: BoolImage) -> ClothMap:
    """A map less the pattern of the weave, told by what lies clear of patches."""
    clear = maps.held & (cv2.dilate(patches.view(np.uint8), np.ones((CLEAR,) * 2, np.uint8)) == 0)
    again = comes_again(chart.own, clear, maps.mm)
    near = chart.near - averaged(again, maps.held, OUTLINE_MM / maps.mm)
    return replace(chart, near=near, own=chart.own - again)


def _better(first: Candidate, other: Candidate | None = None) -> Candidate:
    """Of two outlines round one place that of the larger step, or of two much alike the inner.

    The outer one may take in what is pale beside a patch.
    """
    if other is None:
        return first
    less, more = sorted((first, other), key=lambda one: one.step + one.round)
    if more.step + more.round > CLEARLY * (less.step + less.round):
        return more
    return min(first, other, key=lambda one: np.count_nonzero(one.cells))


def _level_lines(
    near: FloatImage, spread: float, cells: Cells, least: float
) -> list[tuple[float, NDArray[np.uint16], int, list[int]]]:
    """What lies within each level line: how steep that is, its labels, label and extent.

    That is left, top, width, height and area.
    """
    held, cell_mm = cells.held, cells.mm
    slopes = [cv2.Sobel(near, cv2.CV_32F, *axes, scale=1 / 8) for axes in ((1, 0), (0, 1))]
    slope = np.log(np.maximum(cv2.magnitude(*slopes), np.float32(1e-6)))
    usual = float(np.exp(middle_of(slope[held])))
    reach = 2 * max(1, round(SMOOTH_MM / cell_mm)) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    square = np.ones((3, 3), np.uint8)
    lines = []
    for level in (level * spread for level in LEVELS if level * spread > LOWEST * least):
        above = ((near > level) & held).astype(np.uint8)
        if not above.any():
            break  # nor is there anything above a higher one
        above = cv2.morphologyEx(above, cv2.MORPH_CLOSE, brush)
        above = cv2.morphologyEx(above, cv2.MORPH_OPEN, brush)
        # Of so few cells there are fewer objects than 16 bits tell apart, in a third of the time.
        count, labels, stats, _ = cv2.connectedComponentsWithStats(above, ltype=cv2.CV_16U)
        inner = cv2.erode(above, square, borderValue=1)
        rim = np.flatnonzero(cv2.subtract(above, inner).view(np.bool_))
        own = labels.ravel()[rim]
        long = np.maximum(np.bincount(own, minlength=count), 1)
        # The mean of the logarithm: where a line is steep, it has to be so all along.
        steep = np.exp(np.bincount(own, slope.ravel()[rim], count) / long)
        score = (steep - usual) * np.sqrt(long)
        area = stats[:, cv2.CC_STAT_AREA]
        fits = (area * cell_mm**2 >= LEAST_MM2) & (area <= LARGEST_SHARE * above.size)
        fits[0] = False
        which = np.flatnonzero(fits)
        lines += zip(score[which].tolist(), repeat(labels), which.tolist(), stats[which].tolist())
    return sorted(lines, key=lambda line: -line[0])


def _in_window(
    labels: NDArray[np.uint16], k: int, stats: list[int], cell_mm: float
) -> tuple[BoolImage, tuple[slice, slice]]:
    """An object, without holes, in a window that has both its sides; and that window."""
    margin = int(RIM_MM[1] / cell_mm) + 2
    left, top, width, height, _ = stats
    where = (
        slice(max(0, top - margin), top + height + margin),
        slice(max(0, left - margin), left + width + margin),
    )
    return filled(labels[where] == k), where


def judge(
    chart: ClothMap, sign: int, cells: BoolImage, where: tuple[slice, slice], maps: Cells
) -> Candidate | None:
    """Compare both sides of an outline on a map, as a whole and sector by sector.

    Parameters
    ----------
    chart : the map
    sign : 1 if what is asked for lies above the cloth around, -1 if below
    cells : within the outline
    where : their window of the map
    maps : cells of the map that show enough

    Returns
    -------
    The outline with what it shows there; None if too little of it can be seen.
    """
    held, cell_mm = maps.held, maps.mm
    own = chart.own[where]
    to_side, from_side = to_outline(framed(cells, 1))[1:-1, 1:-1], to_outline(~cells)
    y, x = np.nonzero(cells)
    middle = (y.sum() / len(y), x.sum() / len(x))
    rims, sides = [], []
    about = cells.copy()
    for far in (to_side, from_side):
        side = in_rim(far, RIM_MM, cell_mm)
        about |= side
        rims.append(side & held[where])
        rows, columns = np.nonzero(rims[-1])
        turn = np.arctan2(rows - middle[0], columns - middle[1])
        sector = (turn / (2 * np.pi) * SECTORS).astype(np.int64) % SECTORS
        sides.append((sign * own[rows, columns], sector))
    # What the picture's own edge cuts off is as hidden as what glare covers.
    all_round = to_outline(~framed(cells, int(RIM_MM[1] / cell_mm) + 2))
    beyond = np.count_nonzero(in_rim(all_round, RIM_MM, cell_mm)) - np.count_nonzero(side)
    (inner, _), (outer, _) = sides
    if len(inner) < 8 or len(outer) < 8:
        return None
    counts = [np.bincount(sector, minlength=SECTORS) for _, sector in sides]
    both = (counts[0] > 1) & (counts[1] > 1)
    means = [
        np.bincount(sector, values, SECTORS) / np.maximum(count, 1)
        for (values, sector), count in zip(sides, counts, strict=True)
    ]
    steps = np.sort((means[0] - means[1])[both])
    deep = cells & (to_side * cell_mm > 0.5) & held[where]
    _, (wide, high), _ = cv2.minAreaRect(np.column_stack([y, x]).astype(np.float32))
    wide, high = wide + 1, high + 1
    off, height = 0.0, np.inf
    if deep.any():
        off, height = (sign * float(one[where][deep].mean()) for one in (chart.wide, chart.own))
    return Candidate(
        where=where,
        cells=cells,
        rims=(rims[0], rims[1]),
        height=max(height, 1e-3),
        step=float(inner.mean() - outer.mean()),
        round=float(steps[len(steps) // 6]) if len(steps) else 0.0,
        sectors=int(np.count_nonzero(both)),
        hidden=(np.count_nonzero(~maps.inspected[where][about]) + beyond)
        / (np.count_nonzero(about) + beyond),
        thick_mm=float(to_side.max()) * cell_mm,
        filled=float(len(y) / (wide * high)),
        slender=max(wide, high) / min(wide, high),
        deviations=off / chart.spread,
    )
