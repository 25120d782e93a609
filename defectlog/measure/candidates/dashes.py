"""Tracer yarns that wander: dashes in file, each pointing at the next, all alike."""

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.pixels import FloatArray, listed
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import Shapes
from defectlog.measure.patches.halfway import framed

# Dashes are so alike in area, so much longer than wide, and so much of what was found by area;
# more than some hundred are not looked through.
ALIKE, LONGER, OF_ALL, FEW = 1.5, 1.15, 0.3, 500
# Each points at those before and behind it, no further off than some of its lengths, and the
# steps to both are equal but for such a share.
POINTS_AT_DEG, LENGTHS, EQUAL = 15.0, 8.0, 0.15
LEAST = 5  # dashes: three in file that are each between two
# They are as large as what is halfway through all area from the smallest on, or further on where
# specks of the cloth, which are smaller, have more of it.
USUAL = (0.5, 0.85)
MOST = 0.6  # of what is so alike is in file, if it is a yarn
# One that is alone, at the edge, is known by its breadth, contrast and direction.
SAME, SAME_DEG = 1.2, 15.0
# Dashes known for cloth are dyed yarn, not resin between tows, if they stand out by so many times
# what was asked. One is cut off if it reaches so near to what is not inspected.
DYED, CUT_PX = 2.0, 3
# Once the weave is taken out, places that others are compared with know all of a yarn but what few
# of them lie on. Cloth that is as bright is a yarn if it is no more of it than this.
RARE = 0.05
PART = 12  # of the rows of a picture one is looked at first


def in_file(
    shapes: Shapes, area: FloatArray, height: FloatArray, turned: list[Turned]
) -> BoolImage:
    """Which objects are dashes of a tracer yarn.

    Parameters
    ----------
    shapes : of the objects
    area : (n,) of each
    height : (n,) contrast of each
    turned : what has been turned down so far, with the cloth that repeats as the weave does

    Returns
    -------
    (n,) bool

    Notes
    -----
    In cloth that lies straight a yarn repeats all over a picture, as ``weave_objects`` asks. Draped
    cloth bends, and no repeat holds from end to end; but from each dash to the next it does.
    """
    none = np.zeros(len(area), dtype=bool)
    x, y, every = _with_cloth(shapes, area, turned)
    if len(every) < LEAST:
        return none
    for usual in _usual(every, np.array(USUAL)):
        dashes = _of_size(shapes, height, np.column_stack([x, y]), every, usual)
        if dashes.any():
            return dashes
    return none


def _of_size(
    shapes: Shapes, height: FloatArray, places: FloatArray, every: FloatArray, usual: float
) -> BoolImage:
    """Which objects are dashes of the usual area; what is known for cloth comes before them."""
    none = np.zeros(len(height), dtype=bool)
    cloth = len(every) - len(height)
    alike = _is_alike(every, usual)
    alike[cloth:] &= shapes.length > LONGER * shapes.breadth
    some = np.flatnonzero(alike)
    if not LEAST <= len(some) <= FEW or every[some].sum() < OF_ALL * every.sum():
        return none
    known = some < cloth
    own = some[~known] - cloth
    ways = np.zeros((len(some), 2))
    turn = np.radians(shapes.direction_deg[own])
    ways[~known] = np.column_stack([np.cos(turn), -np.sin(turn)])
    reach = np.zeros(len(some))
    reach[~known] = LENGTHS * shapes.length[own]
    found = _chained(places[some], ways, reach, known)
    if not found.any() or np.count_nonzero(found | known) < MOST * len(some):
        return none
    dashes = none.copy()
    dashes[own[found[~known]]] = True
    return dashes | _like(shapes, height, dashes)


def like_the_cloth(
    surface: Surface,
    shapes: Shapes,
    turned: list[Turned],
    inspected: BoolImage,
    *,
    threshold: float,
) -> BoolImage:
    """Which objects are dashes as those that are known for cloth, but lie where few others do.

    Parameters
    ----------
    surface : evenly lit
    shapes : of the objects
    turned : what has been turned down so far, with the cloth that repeats as the weave does
    inspected : (M, N) bool, what was before yarns were told
    threshold : contrast that voids were found by, in log units of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    In a corner of the picture a yarn has no repeat within it. All its dashes are of one dye and
    one size, but where the edge cuts them off; a void is so by chance, and then others are of that
    size as well. Sizes are those of what lies beyond the threshold, as known ones have them: of
    small dashes far beyond it, blur makes twice what lies within their outlines.
    """
    none = np.zeros(len(shapes.x), dtype=bool)
    cloth = _known_cloth(turned)
    if not cloth or not len(none):
        return none
    x, y, every = (np.concatenate([getattr(one, n) for one in cloth]) for n in ("x", "y", "area"))
    usual = _usual(every, 0.5)
    alike = _is_alike(every, usual)
    tone = float(np.median(_off(surface, x[alike], y[alike])))
    if np.count_nonzero(alike) < LEAST or abs(tone) < DYED * threshold:
        return none
    own = _off(surface, shapes.x, shapes.y) / tone
    dyed = (own < SAME) & (own > 1 / SAME)
    if not dyed.any():
        return none
    # Where there are voids, one in the first rows alone is as a rule of another tone and as large.
    for rows in (-(-len(surface.smooth) // PART), len(surface.smooth)):
        area = _beyond(surface, shapes, -math.copysign(1.0, tone), threshold, rows)
        if np.where(dyed, area >= ALIKE * usual, area > usual / ALIKE).any():
            return none
    return dyed & (_is_cut(inspected, shapes) | (area > usual / ALIKE))


def cut_off(
    inspected: BoolImage, shapes: Shapes, height: FloatArray, dashes: BoolImage
) -> BoolImage:
    """Which objects are pieces of dashes, cut off where what is inspected ends.

    Parameters
    ----------
    inspected : (M, N) bool, what was before yarns were told
    shapes : of the objects
    height : (n,) contrast of each
    dashes : (n,) bool, those that are dashes

    Notes
    -----
    Of such a piece nothing but the dye is as it was: it is shorter or narrower, and lies any way.
    """
    if not dashes.any():
        return dashes
    usual = np.median(height[dashes])
    piece = (height < SAME * usual) & (height > usual / SAME)
    for size in (shapes.length, shapes.breadth):
        piece &= size < SAME * np.median(size[dashes])
    return piece & _is_cut(inspected, shapes) if piece.any() else piece


def _is_cut(inspected: BoolImage, shapes: Shapes) -> BoolImage:
    """Whether each object reaches the end of what is inspected."""
    open_ = framed(inspected[1:-1, 1:-1], 1)
    clear = cv2.erode(open_.view(np.uint8), np.ones((2 * CUT_PX + 1,) * 2, np.uint8)).ravel()
    return np.bincount(shapes.label, clear.take(shapes.at) == 0, len(shapes.x)) > 0


def _beyond(
    surface: Surface, shapes: Shapes, sign: float, threshold: float, rows: int
) -> FloatArray:
    """Pixels beyond a threshold that the middle of each object is one of, in so many rows."""
    smooth, inspected = surface.smooth[:rows], surface.inspected[:rows]
    inspected_px = int(np.count_nonzero(inspected))
    top = replace(surface, smooth=smooth, inspected=inspected, inspected_px=inspected_px)
    known = listed(beyond(top, sign, threshold))
    row, column = (np.rint(place).astype(np.int64) for place in (shapes.y, shapes.x))
    middle = row * surface.smooth.shape[1] + column
    # One pixel more, which is none of these, so that there is one after each middle.
    at, label = np.append(known.at, surface.smooth.size), np.append(known.label, 0)
    found = np.searchsorted(at, middle)
    areas = np.bincount(known.label, minlength=1)
    return np.where(at[found] == middle, areas[label[found]], 0).astype(np.float64)


def left_of_a_yarn(
    surface: Surface, light: FloatArray, area: FloatArray, kept: BoolImage
) -> BoolImage:
    """Which bright objects are as bright and as large as dashes that the cloth itself has.

    Parameters
    ----------
    surface : without its weave, its light as the inverse
    light, area : (n,) of the objects, found as dark ones on it
    kept : (n,) bool, which of them are to be told

    Returns
    -------
    (n,) bool

    Notes
    -----
    A yarn that crosses a corner of the picture has too few dashes there to be compared with each
    other. A bright void is as bright as all those of another yarn, and as large, by chance alone;
    and no void is cloth: that asks for several in a row.
    """
    none = np.zeros(len(area), dtype=bool)
    if not kept.any():
        return none
    order = np.flatnonzero(kept)[np.argsort(light[kept], kind="stable")]
    upto = area[order].cumsum()
    least = SAME * light[order][np.searchsorted(upto, upto[-1] / 2)]
    as_bright = surface.expected < least
    if not 0 < np.count_nonzero(as_bright) <= RARE * as_bright.size:
        return none
    every = 4.0 * np.bincount(listed(as_bright).label)[1:]  # at half the size
    usual = _usual(every, 0.5)
    alike = _is_alike(every, usual)
    if np.count_nonzero(alike) < LEAST or every[alike].sum() < MOST * every.sum():
        return none
    dyed = kept & (light < least) & _is_alike(area, usual)
    others = kept & ~dyed & (area > usual / ALIKE)
    return none if others.any() else dyed


def _usual(area: FloatArray, share: float | FloatArray) -> float | FloatArray:
    """The area of the object that is so far through all area, from the smallest on."""
    order = np.sort(area)
    upto = order.cumsum()
    return order[np.searchsorted(upto, share * upto[-1])]


def _is_alike(area: FloatArray, usual: float) -> BoolImage:
    """Which objects are about as large as usual."""
    return (area < ALIKE * usual) & (area > usual / ALIKE)


def _off(surface: Surface, x: FloatArray, y: FloatArray) -> FloatArray:
    """How far the light at some places is off the even light, in log units."""
    row, column = (np.rint(place).astype(np.int64) for place in (y, x))
    return np.log(np.maximum(surface.smooth[row, column], 1) / ONE)


def _known_cloth(turned: list[Turned]) -> list[Turned]:
    return [one for one in turned if one.why in (judging.WEAVE, judging.DYED)]


def _with_cloth(
    shapes: Shapes, area: FloatArray, turned: list[Turned]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Places and areas of what is known for cloth, then of the objects."""
    known = _known_cloth(turned)
    return (
        np.concatenate([*(one.x for one in known), shapes.x]),
        np.concatenate([*(one.y for one in known), shapes.y]),
        np.concatenate([*(one.area for one in known), area]),
    )


def _chained(
    places: NDArray[np.float64], ways: NDArray[np.float64], reach: FloatArray, known: BoolImage
) -> BoolImage:
    """Which of some objects that are alike lie in file.

    Parameters
    ----------
    places : (n, 2) x and y
    ways : (n, 2) along each, of length 1; 0 where that is not known
    reach : (n,) how far each may point
    known : (n,) bool, which are cloth already
    """
    ahead, behind = np.zeros((2, len(places)), dtype=np.int64)
    there, back = np.full((2, len(places)), np.inf)
    own = np.flatnonzero(reach)
    across, down = (axis - axis[own, None] for axis in places.T)
    along, upright = (axis[own, None] for axis in ways.T)
    on, aside = across * along + down * upright, np.abs(across * upright - down * along)
    pointed = aside < math.tan(math.radians(POINTS_AT_DEG)) * np.abs(on)
    far = np.full(on.shape, np.inf)
    far[pointed] = np.hypot(across[pointed], down[pointed])
    far[far >= reach[own, None]] = np.inf
    for hand, neighbour, step in ((on > 0, ahead, there), (on < 0, behind, back)):
        steps_to = np.where(hand, far, np.inf)
        neighbour[own], step[own] = steps_to.argmin(axis=1), steps_to.min(axis=1)
    between = np.isfinite(there) & np.isfinite(back)
    between[between] = np.abs(there[between] / back[between] - 1) < EQUAL
    sure = between & (known | between)[ahead] & (known | between)[behind]
    if sure.any():
        step = float(np.median(there[sure]))
    elif np.count_nonzero(known) >= LEAST:
        # All but the last of a yarn may be known; its dashes are nearer than any other yarn.
        among = np.hypot(*(axis - axis[:, None] for axis in places[known].T))
        np.fill_diagonal(among, np.inf)
        step = float(np.median(among.min(axis=1)))
    else:
        return sure
    dashes = sure.copy()
    dashes[ahead[sure]] = dashes[behind[sure]] = True
    for _ in range(3):  # past a dash that a void has joined, or to the end of the yarn
        for neighbour, length in ((ahead, there), (behind, back)):
            dashes |= (dashes | known)[neighbour] & (np.abs(length - step) < EQUAL * step)
    return dashes


def _like(shapes: Shapes, height: FloatArray, dashes: BoolImage) -> BoolImage:
    """What has the breadth, contrast and direction of the dashes, and is no longer."""
    turn = np.exp(2j * np.radians(shapes.direction_deg))
    middle = turn[dashes].mean()
    off_deg = np.degrees(np.abs(np.angle(turn * np.conj(middle)))) / 2
    like = (off_deg < SAME_DEG) & (shapes.length < SAME * np.median(shapes.length[dashes]))
    for values in (shapes.breadth, height):
        usual = np.median(values[dashes])
        like &= (values < SAME * usual) & (values > usual / SAME)
    return like
