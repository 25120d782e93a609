"""Resin between tows and in grooves of the core: what hardly counts, and lies as no void does."""

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage, as_contrast
from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.candidates.grooves import in_grooves
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import Vector
from defectlog.measure.outlines.shapes import Shapes

# Pockets are nowhere further off the surface than this times the threshold, in log units of
# light; those in a groove may be so far off.
WEAK, WEAK_IN_ROW = 1.75, 2.5
# If nearly all of some that are looked at come up again, all may, however far off they are.
SOME, NEARLY_ALL = 64, 0.8
ACROSS = 0.7  # of the way to the next tow; nothing larger fits between
# Fewer than these say nothing, and less than such a share of the area of all changes little.
FEWEST, LEAST_OF_ALL = 8, 0.05
# One tow on lies the next, within such a share of the way there, and stands out as far but for
# these factors; half of those round about do, of more than so many times as many as by chance.
ASTRAY, WEAKER, STRONGER = 0.2, 0.6, 1.8
MOSTLY, TIMES_CHANCE = 0.5, 4
A_STEP = 0.45  # of the shortest repeat: less between two of them is no step of the weave
TURNED = np.array([[0.83, 0.55], [-0.55, 0.83]])  # to directions that the cloth does not have
# Where pockets are so many times as many as the rest, and most of that stands out hardly further
# than they do, it is of the cloth as well, but for what stands out by so much more.
OFTENER, HARDLY_FURTHER, FURTHER = 2.0, 1.2, 1.5
SAMPLES = 3  # to either side, of the light round about where the next is looked for
LOOKED_AT = (0, 6, 7, 9, 12)  # steps, at a time: half of them say nothing yet


def of_the_cloth(
    surface: Surface,
    shapes: Shapes,
    area: FloatArray,
    height: FloatArray,
    repeats: list[Vector],
    *,
    look: Look,
    threshold: float,
) -> BoolImage:
    """Which objects are pockets of resin between tows, or lie in the grooves of a scored core.

    Parameters
    ----------
    surface : they lie on
    shapes : of the objects
    area : (n,) of each
    height : (n,) contrast of each to the surface about it, as a share of light
    repeats : of the weave, from ``Surface.weave``
    look : the side they lie on
    threshold : contrast that they were found by, in log units of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    Where tows cross, clear cloth is thinnest and shows what is below: hardly enough to count,
    here and not there, but a tow further on nearly as much, whether it counts there or not.
    Cloth may bend: only the next is looked for, near to where it should be. A void is alone,
    wherever it lies, and so are its neighbours.
    """
    found = np.zeros(len(height), dtype=bool)
    sign = sign_of(look)
    depth = as_contrast(height, dark=look == "dark") / threshold
    tows = _next_tows(repeats)
    most, weak = WEAK, depth < WEAK
    if tows is not None:
        is_small = area < (ACROSS * math.hypot(*tows[0])) ** 2
        some = np.zeros_like(weak)
        some[np.flatnonzero(is_small)[:: max(1, np.count_nonzero(is_small) // SOME)]] = True
        deepest = _deepest(surface, shapes, some, sign)
        recurs = _recurring(surface, shapes, some, deepest, tows, sign)
        if np.count_nonzero(recurs) > NEARLY_ALL * np.count_nonzero(some):
            most = math.inf
        weak = is_small & (depth < most)
    if not weak.any() or area[weak].sum() < LEAST_OF_ALL * area.sum():
        return found
    in_row = depth < WEAK_IN_ROW
    deepest = _deepest(surface, shapes, weak | in_row, sign)
    if tows is not None:
        weak &= deepest < most * threshold
        found = _recurring(surface, shapes, weak, deepest, tows, sign)
    in_row &= (deepest > 0) & (deepest < WEAK_IN_ROW * threshold)
    row = np.flatnonzero(in_row & ~found)
    found[row] = in_grooves(shapes, row, surface.smooth.shape, px_per_mm=surface.px_per_mm)
    # Where the weave comes up again all over, what does not is none of it.
    return found if most > WEAK else found | among_pockets(found, height)


def among_pockets(pocket: BoolImage, height: FloatArray) -> BoolImage:
    """The rest of what was found, as far as it is as weak as pockets, where most of all are these.

    Parameters
    ----------
    pocket : (n,) bool, which of the objects are known for pockets
    height : (n,) contrast of each to the surface about it, as a share of light

    Notes
    -----
    Gaps between tows open here and there, and the next may be closed.
    """
    rest = ~pocket
    count = np.count_nonzero(pocket)
    if not rest.any() or count < max(FEWEST, OFTENER * np.count_nonzero(rest)):
        return np.zeros_like(pocket)
    strong = float(np.quantile(height[pocket], 0.95))
    if np.quantile(height[rest], 0.75) > HARDLY_FURTHER * strong:
        return np.zeros_like(pocket)
    return rest & (height < FURTHER * strong)


def _recurring(
    surface: Surface,
    shapes: Shapes,
    which: BoolImage,
    deepest: FloatArray,
    tows: NDArray[np.float64],
    sign: float,
) -> BoolImage:
    """Which of some objects have others like them a tow further on, if more than by chance.

    ``deepest`` of all objects is from ``_deepest``.
    """
    found = np.zeros_like(which)
    few = np.flatnonzero(which)
    if len(few) < FEWEST:
        return found
    places, deepest = np.column_stack([shapes.y, shapes.x])[few], deepest[few]
    recurs, chance = in_two(
        lambda steps: _recur(surface, places, deepest, steps, sign), tows, tows @ TURNED
    )
    count = np.count_nonzero(recurs)
    if count >= max(FEWEST, TIMES_CHANCE * np.count_nonzero(chance)):
        found[few] = recurs
    return found


def _deepest(surface: Surface, shapes: Shapes, which: BoolImage, sign: float) -> FloatArray:
    """How far the furthest pixel of some objects is off the surface, in log units of light."""
    pixels = np.flatnonzero(which.take(shapes.label))
    light = surface.smooth.ravel().take(shapes.at.take(pixels))
    furthest = np.full(len(which), ONE, np.uint16)
    (np.minimum if sign > 0 else np.maximum).at(furthest, shapes.label.take(pixels), light)
    return _off(furthest, sign)


def _off(light: NDArray[np.uint16], sign: float) -> FloatArray:
    return -sign * np.log(np.maximum(light, 1) / ONE)


def _next_tows(repeats: list[Vector]) -> NDArray[np.float64] | None:
    """From a crossing of tows to those next to it, (12, 2): eight round it, and four behind these.

    None where the repeats all run one way.
    """
    ways = np.array(repeats, dtype=np.float64).reshape(-1, 2)
    first, second = np.triu_indices(len(ways), 1)
    shortest = np.hypot(*ways.T).min(initial=np.inf)
    # What lies between two repeats is one as well; between two that are the same, hardly any.
    ways = np.concatenate([ways, ways[first] - ways[second], ways[first] + ways[second]])
    length = np.hypot(*ways.T)
    ways = ways[np.argsort(length, kind="stable")][np.count_nonzero(length < A_STEP * shortest) :]
    for one, other in ((ways[0], other) for other in ways[1:]):
        if abs(one[0] * other[1] - one[1] * other[0]) > 0.5 * math.hypot(*one) * math.hypot(*other):
            steps = np.array([one, other, one + other, one - other, 2 * one, 2 * other])
            return np.concatenate([steps, -steps])
    return None


def _recur(
    surface: Surface,
    places: NDArray[np.float64],
    deepest: FloatArray,
    tows: NDArray[np.float64],
    sign: float,
) -> BoolImage:
    """Which of some places (n, 2) have others like them at most of the steps from there."""
    (rows, columns), reach = surface.smooth.shape, ASTRAY * np.hypot(*tows[0])
    around = np.linspace(-reach, reach, 2 * SAMPLES + 1)[:, None]
    y, x = places.T[:, None] + tows.T[:, :, None]
    inside = (y >= 0) & (x >= 0) & (y <= rows - 1) & (x <= columns - 1)
    if not surface.is_whole:
        row, column = (_nearest(at[inside], side) for at, side in ((y, rows), (x, columns)))
        inside[inside] = surface.inspected[row, column]
    left = inside.sum(axis=0)
    asked, often = MOSTLY * np.maximum(left, 1), np.zeros(len(places), dtype=np.int64)
    for some in pairwise(LOOKED_AT):
        some = slice(*some)
        there = inside[some]
        # Of most places it is known by then whether enough are alike.
        rest = np.flatnonzero((often < asked) & (often + left >= asked))
        left -= there.sum(axis=0)
        down, across = (
            _nearest(at[some, rest].ravel() + around, side)
            for at, side in ((y, rows), (x, columns))
        )
        off = _furthest(surface.smooth, down, across, sign).reshape(len(there), -1)
        own = deepest[rest]
        alike = there[:, rest] & (off > WEAKER * own) & (off < STRONGER * own)
        often[rest] += alike.sum(axis=0)
    return often >= asked


def _nearest(at: NDArray[np.float64], side_px: int) -> IndexArray:
    """The pixels of a picture's side that places along it are nearest to."""
    return np.rint(np.clip(at, 0, side_px - 1)).astype(np.int64)


def _furthest(light: RatioImage, y: IndexArray, x: IndexArray, sign: float) -> FloatArray:
    """How far light is off the surface where it is furthest: in each of n grids, (m, n) rows."""
    columns, furthest = light.shape[1], np.minimum if sign > 0 else np.maximum
    # Row by row of the light there: all of it at once is more than a processor holds at hand.
    there = [furthest.reduce(light.ravel().take(row * columns + x)) for row in y]
    return _off(furthest.reduce(there), sign)
