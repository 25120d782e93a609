"""Tracer yarns that wander: dashes in file, each pointing at the next, all alike."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import Shapes

# Dashes are so alike in area, so much longer than wide, and so much of what was found by area;
# more than some hundred are not looked through.
ALIKE, LONGER, OF_ALL, FEW = 1.5, 1.15, 0.3, 500
# Each points at those before and behind it, no further off than some of its lengths, and the
# steps to both are equal but for such a share.
POINTS_AT_DEG, LENGTHS, EQUAL = 15.0, 8.0, 0.15
LEAST = 5  # dashes that are alike, and among them three in file that are each between two
# They are as large as what is halfway through all area from the smallest on, or further on where
# specks of the cloth, which are smaller, have more of it.
USUAL = (0.5, 0.85)
MOST = 0.6  # of what is so alike is in file, if it is a yarn
# Two that are each between two are enough where so much of all is like these, or known for cloth.
ALL = 0.75
# One that is alone, at the edge, is known by its breadth, contrast and direction.
SAME, SAME_DEG = 1.2, 15.0


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
    for usual in usual_area(every, np.array(USUAL)):
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
    alike = is_alike(every, usual)
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
    beside = _beside(places[some], ways, reach)
    for fewer in (False, True):
        found = _chained(places[some], beside, known, fewer=fewer)
        if np.count_nonzero(found | known) < MOST * len(some) or not found[~known].any():
            continue
        dashes = none.copy()
        dashes[own[found[~known]]] = True
        dashes |= _like(shapes, height, dashes)
        is_all = every[:cloth].sum() + every[cloth:][dashes].sum() > ALL * every.sum()
        return dashes if is_all or not fewer else none
    return none


def usual_area(area: FloatArray, share: float | FloatArray) -> float | FloatArray:
    """The area of the object that is so far through all area (n,), from the smallest on."""
    order = np.sort(area)
    upto = order.cumsum()
    return order[np.searchsorted(upto, share * upto[-1])]


def is_alike(area: FloatArray, usual: float) -> BoolImage:
    """Which objects are about as large as usual, (n,) bool, by the area of each."""
    return (area < ALIKE * usual) & (area > usual / ALIKE)


def known_cloth(turned: list[Turned]) -> list[Turned]:
    """Of what has been turned down, what is known for cloth."""
    return [one for one in turned if one.why in (judging.WEAVE, judging.DYED)]


def _with_cloth(
    shapes: Shapes, area: FloatArray, turned: list[Turned]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Places and areas of what is known for cloth, then of the objects."""
    known = known_cloth(turned)
    return (
        np.concatenate([*(one.x for one in known), shapes.x]),
        np.concatenate([*(one.y for one in known), shapes.y]),
        np.concatenate([*(one.area for one in known), area]),
    )


@dataclass(frozen=True, slots=True)
class _Beside:
    """Of each of some objects the one ahead that it points at, and behind, and how far off.

    No place, and infinitely far, where there is none.
    """

    ahead: IndexArray
    behind: IndexArray
    there: FloatArray
    back: FloatArray


def _beside(places: NDArray[np.float64], ways: NDArray[np.float64], reach: FloatArray) -> _Beside:
    """Which others each object points at.

    Parameters
    ----------
    places : (n, 2) x and y
    ways : (n, 2) along each, of length 1; 0 where that is not known
    reach : (n,) how far each may point
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
    return _Beside(ahead, behind, there, back)


def _chained(
    places: NDArray[np.float64], beside: _Beside, known: BoolImage, *, fewer: bool
) -> BoolImage:
    """Which of some objects that are alike lie in file.

    Parameters
    ----------
    places : (n, 2) x and y
    beside : which each points at
    known : (n,) bool, which are cloth already
    fewer : whether two that are each between two are enough, and not three
    """
    ahead, behind, there, back = beside.ahead, beside.behind, beside.there, beside.back
    between = np.isfinite(there) & np.isfinite(back)
    between[between] = np.abs(there[between] / back[between] - 1) < EQUAL
    both = np.logical_or if fewer else np.logical_and
    sure = between & both((known | between)[ahead], (known | between)[behind])
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
