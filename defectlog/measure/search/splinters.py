"""Splinters of a few large voids: what lies beside them and stands out as nothing else does.

A dry spot is ragged. Along its rim, and some tows away from it, single floats and groups of
them are dry as well: too few to be a population, and no further off than a void that lies
alone has to be. Beside a spot they are likely, and the rest of the surface tells how far its
cloth goes by itself.
"""

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage, FloatImage, as_ratio, from_cells, to_cells
from defectlog.measure.arrays.look import Look
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.cloth_maps import averaged
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.outline import perimeters
from defectlog.measure.outlines.shapes import shapes_of
from defectlog.measure.outlines.sizing import OUTLINE_OFF
from defectlog.measure.patches.patches import Patch
from defectlog.measure.search.crumbs import few_large
from defectlog.measure.search.joining import one_after_the_other

BESIDE_MM = 12.0
# Light is compared with that of the cloth about it, averaged in cells.
CLOTH_MM, CELL_MM = 2.0, 0.5
# A splinter is beyond all but this share of the rest of the surface, by so much, and no weaker
# than such a share of the spots themselves. There has to be enough of the rest to tell.
ELSEWHERE, MARGIN, STRONG = 2e-5, 1.05, 0.3
LEAST_ELSEWHERE, LEAST_STRONG_PX = 0.3, 4
# Clear of a spot it goes on so far from there, where it is more than this share of the spots, or
# of its own strongest place if that is less; gaps between its tows are part of it.
GROWN_MM, WEAK, OWN, CLOSED_MM = 2.0, 0.6, 0.5, 0.6
# Several tows' width of it is as light as tows of the spots: nearly their tone on top of what the
# cloth's own lighter tenth has; or far beyond the cloth. Of what is smaller blur takes some.
TOWS_PX2, LIGHTER_TENTH, AS_LIGHT, CLEARLY = 100, 0.9, 0.85, 1.5
# What is left of it so many pixels away, at most: on a bright tow there is more.
RING_PX, APART = (2, 5), 0.3
LEAST_PX2 = 7.0
TOUCHING_PX = 3
SOFT_EDGE_PX = 2.0  # how wide the edge of a splinter is
SAMPLE_PX = 1_000_000

Window = tuple[slice, slice]


def with_splinters(found: Found, surface: Surface, patches: tuple[Patch, ...] = ()) -> Found:
    """Count what stands out beside a few large voids, as part of them where it touches them.

    Parameters
    ----------
    found : the voids found so far, patches among them
    surface : evenly lit
    patches : those that are or may be among them

    Returns
    -------
    Found
        As it was where there are no few large voids, or nothing stands out beside them; and
        where a patch is paler than the cloth and the voids darker, or the other way about.
    """
    large = few_large(found, surface)
    if large is None:
        return found
    if any(one.is_sure and (one.tone > 0) != (found.look == "bright") for one in patches):
        return found
    large = large & (np.array(found.shapes.words, dtype=str) != "long")
    if not large.any():
        return found
    tone = float(np.average(found.height[large], weights=found.area[large]))
    spots = found.drawn(large)
    splinters = _splinters(found, surface, spots, tone)
    if splinters is None:
        return found
    window = _extent(spots | splinters, 2 * TOUCHING_PX)
    square = np.ones((2 * TOUCHING_PX + 1,) * 2, np.uint8)
    whole = _closed((spots | splinters)[window], square)
    whole &= surface.inspected[window].view(np.uint8)
    drawn = np.zeros_like(spots)
    drawn[window] = _with_any(whole, splinters[window])
    return _counted(found, drawn, tone)


def _splinters(found: Found, surface: Surface, spots: BoolImage, tone: float) -> BoolImage | None:
    """Where splinters are; None where there are none.

    Parameters
    ----------
    spots : (M, N) bool, the large voids
    tone : how far these are off, as a share of light
    """
    px_per_mm = surface.px_per_mm
    known = found.drawn(found.kept & (found.area >= LEAST_PX2)).view(np.uint8)
    free = surface.inspected & (cv2.dilate(known, np.ones((5, 5), np.uint8)) == 0)
    near = _near(spots, px_per_mm)
    cloth = _cloth(surface, free)
    step = max(1, int((free.size / SAMPLE_PX) ** 0.5))
    some = (slice(None, None, step),) * 2
    rest = _excess(surface, cloth, found.look, some)[(free & ~near)[some]]
    if len(rest) < LEAST_ELSEWHERE * np.count_nonzero(free[some]):
        return None
    far, usual = np.quantile(rest, (1 - ELSEWHERE, LIGHTER_TENTH))
    level = max(MARGIN * float(far), STRONG * tone)
    as_light = min(AS_LIGHT * _both_off(tone, float(usual), found.look), CLEARLY * float(far))
    beside = free & near
    window = _extent(beside, 0)
    strong = np.zeros_like(spots)
    strong[window] = beside[window] & (_excess(surface, cloth, found.look, window) > level)
    if not strong.any():
        return None
    window = _extent(strong, math.ceil((GROWN_MM + CLOSED_MM) * px_per_mm) + RING_PX[1])
    strong, beside = strong[window], beside[window]
    excess = np.where(beside, _excess(surface, cloth, found.look, window), np.float32(0))
    objects = _grown(strong, excess, beside, WEAK * tone, px_per_mm)
    objects &= is_apart(objects, excess, beside, as_light)
    size = (4 * TOUCHING_PX + 1,) * 2
    rim = cv2.dilate(spots[window].view(np.uint8), np.ones(size, np.uint8)) > 0
    objects &= strong | ~_with_any(objects.view(np.uint8), rim)
    if not objects.any():
        return None
    splinters = np.zeros_like(spots)
    splinters[window] = objects
    return splinters


def _grown(
    strong: BoolImage, excess: FloatImage, beside: BoolImage, weak: float, px_per_mm: float
) -> BoolImage:
    """What is strong in several pixels, with what it goes on in."""
    own = strong | ((excess > weak) & _within(strong, GROWN_MM * px_per_mm))
    reach = (2 * round(CLOSED_MM * px_per_mm) + 1,) * 2
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, reach)
    closed = _closed(own, brush) & beside.view(np.uint8)
    count, labels = cv2.connectedComponents(closed, ltype=cv2.CV_32S)
    stands_out = np.bincount(labels[strong], minlength=count) >= LEAST_STRONG_PX
    stands_out[0] = False
    fades = excess <= np.minimum(OWN * _highest(labels, strong, excess, count), weak)[labels]
    return stands_out[labels] & ~(own & fades)


def _closed(mask: BoolImage, brush: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A mask with its gaps closed, but not towards the sides of the picture."""
    closed = cv2.morphologyEx(
        mask.view(np.uint8), cv2.MORPH_CLOSE, brush, borderType=cv2.BORDER_CONSTANT, borderValue=0
    )
    return closed | mask.view(np.uint8)


def _highest(
    labels: NDArray[np.int32], which: BoolImage, excess: FloatImage, count: int
) -> NDArray[np.float32]:
    highest = np.zeros(count, np.float32)
    np.maximum.at(highest, labels[which], excess[which])
    return highest


def _both_off(tone: float, usual: float, look: Look | None) -> float:
    """How far off is what is off by one share of light and then by another."""
    return (1 + tone) * (1 + usual) - 1 if look == "bright" else 1 - (1 - tone) * (1 - usual)


def is_apart(
    objects: BoolImage, excess: FloatImage, beside: BoolImage, as_light: float
) -> BoolImage:
    """Those that are set off from what is close about them, and large ones as far as spots are.

    Parameters
    ----------
    objects : (M, N) bool
    excess : (M, N) light beyond that of the cloth, as a share of it
    beside : (M, N) bool, where it can be told
    as_light : what the strongest place of an object wider than tows are has to reach
    """
    count, labels = cv2.connectedComponents(objects.view(np.uint8), ltype=cv2.CV_32S)
    near, about = (
        cv2.dilate(labels.astype(np.float32), np.ones((2 * px + 1,) * 2, np.uint8)).astype(np.int32)
        for px in RING_PX
    )
    ring = beside & (near == 0) & (about > 0)
    whose = about[ring]
    often = np.maximum(np.bincount(whose, minlength=count), 1)
    mean = np.bincount(whose, excess[ring], count) / often
    highest = _highest(labels, objects, excess, count)
    small = np.bincount(labels.ravel(), minlength=count) <= TOWS_PX2
    apart = (mean < APART * highest) & (small | (highest >= as_light))
    apart[0] = False
    return apart[labels]


def _with_any(mask: NDArray[np.uint8], of: BoolImage) -> BoolImage:
    """The objects of a mask that have a pixel of another."""
    count, labels = cv2.connectedComponents(mask, ltype=cv2.CV_32S)
    which = np.zeros(count, dtype=bool)
    which[labels[of]] = True
    which[0] = False
    return which[labels]


def _within(mask: BoolImage, reach_px: float) -> BoolImage:
    """A mask and what is so near to it."""
    return cv2.distanceTransform((~mask).view(np.uint8), cv2.DIST_L2, 5) <= reach_px


def _near(spots: BoolImage, px_per_mm: float) -> BoolImage:
    """What lies so near to the spots that a splinter of them may be there."""
    cell_px = _cell_px(px_per_mm)
    cells = to_cells(spots.view(np.uint8) * np.uint8(255), cell_px) > 0
    near = _within(cells, BESIDE_MM * px_per_mm / cell_px).view(np.uint8)
    return from_cells(near, cell_px, spots.shape, smooth=False).view(np.bool_)


def _extent(mask: BoolImage, margin_px: int) -> Window:
    """The window of a mask, and so much more on every side."""
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    left, top, right, bottom = left - margin_px, top - margin_px, left + width, top + height
    return slice(max(0, top), bottom + margin_px), slice(max(0, left), right + margin_px)


def _cloth(surface: Surface, free: BoolImage) -> FloatImage:
    """The light of the cloth about each cell, voids left out."""
    cell_px = _cell_px(surface.px_per_mm)
    weight = to_cells(free.view(np.uint8) * np.uint8(255), cell_px) / np.float32(255)
    light = as_ratio(to_cells(np.where(free, surface.smooth, np.uint16(0)), cell_px))
    held = weight > 0.5
    light /= np.maximum(weight, np.float32(0.5))
    # Deep inside a void there is none, nor is anything asked there.
    return np.maximum(averaged(light, held, CLOTH_MM / CELL_MM), np.float32(0.1))


def _cell_px(px_per_mm: float) -> int:
    return max(1, round(CELL_MM * px_per_mm))


def _excess(surface: Surface, cloth: FloatImage, look: Look | None, where: Window) -> FloatImage:
    """How much light is missing against the cloth, or added, as a share of the cloth's."""
    rows, columns = (
        np.arange(size)[part] // _cell_px(surface.px_per_mm)
        for size, part in zip(surface.smooth.shape, where, strict=True)
    )
    light = as_ratio(surface.smooth[where])
    light /= cloth[np.ix_(rows, columns)]
    light -= 1
    return light if look == "bright" else -light


def _counted(found: Found, drawn: BoolImage, tone: float) -> Found:
    """With the objects drawn, instead of what was counted of them before."""
    shapes = shapes_of(drawn)
    n = len(shapes.area)
    within = drawn.ravel()[found.shapes.at]
    whose = np.zeros(drawn.size, np.int32)
    whose[shapes.at] = shapes.label
    before = np.bincount(
        whose[found.shapes.at[within & found.kept[found.shapes.label]]], minlength=n
    )
    parts = np.bincount(found.shapes.label, within, len(found.area)) > 0.5 * found.shapes.area
    parts &= found.kept
    of = np.zeros(len(found.area), np.int64)
    of[found.shapes.label[within]] = whose[found.shapes.at[within]]
    around = perimeters(drawn, shapes.at, shapes.label, n)
    added = 1 - before / shapes.area
    unsure = OUTLINE_OFF * SOFT_EDGE_PX * around * added
    unsure += np.bincount(of[parts], found.unsure_px[parts], n)
    thin = judging.is_thin(shapes.at, shapes.label, drawn.shape, shapes.area, around)
    thin |= shapes.length > judging.THIN_CHAIN * shapes.breadth
    counts = (before > 0) | ((shapes.area >= LEAST_PX2) & ~thin)
    return replace(
        found,
        mask=found.mask | drawn,
        shapes=one_after_the_other(found.shapes, shapes),
        area=np.concatenate([found.area, shapes.area]),
        kept=np.concatenate([found.kept & ~parts, counts]),
        height=np.concatenate([found.height, np.full(n, tone)]),
        unsure_px=np.concatenate([found.unsure_px, unsure]),
    )
