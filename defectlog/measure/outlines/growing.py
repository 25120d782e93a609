"""What objects reach of the surface about them: whose each pixel near them is."""

from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import both, in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import IndexArray, Listed, in_file, rows_and_columns

GROW_PX = 3
# Crosses and squares in turn make an octagon, near enough to a circle. Rows down, columns across.
Way = tuple[int, int]
CROSS: tuple[Way, ...] = ((0, 1), (0, -1), (1, 0), (-1, 0))
SQUARE: tuple[Way, ...] = (*CROSS, (1, 1), (1, -1), (-1, 1), (-1, -1))
STEPS = (CROSS, SQUARE, CROSS)
# Pixels, the object each is of, and the ways from there on which there may be free ones.
Front = tuple[IndexArray, NDArray[np.int32], frozenset[Way]]


def with_beyond(known: Listed, free: BoolImage) -> tuple[IndexArray, IndexArray, tuple[slice, ...]]:
    """Gather the pixels of objects, and those they reach within ``GROW_PX`` steps.

    Parameters
    ----------
    known : the objects
    free : (M, N) bool, what may be reached; used up on the way

    Returns
    -------
    at, label, rim : the pixels, those of the objects first, one object after the other; the
        object of each, from 0; and the slices of those that the last step reached
    """
    beyond = _grown(free, known)
    fronts = [front for step in beyond for front in step]

    def pixels() -> IndexArray:
        order = in_file(known.runs.own, known.count)
        length = known.runs.length.take(order)
        own = np.repeat(known.runs.first.take(order) - (length.cumsum() - length), length)
        own += np.arange(len(own))
        return np.concatenate([own, *(front[0] for front in fronts)])

    def labels() -> IndexArray:
        own = np.repeat(np.arange(1, known.count + 1), known.area)
        label = np.concatenate([own, *(front[1] for front in fronts)], dtype=np.int64)
        label -= 1
        return label

    at, label = both(pixels, labels)
    reached = [sum(len(front[0]) for front in step) for step in beyond]
    ends = len(known.at) + np.cumsum(reached)
    last = range(GROW_PX - 1, len(beyond), GROW_PX)
    return at, label, tuple(slice(ends[k] - reached[k], ends[k]) for k in last)


def _grown(free: BoolImage, known: Listed) -> list[list[Front]]:
    """All that objects reach within ``GROW_PX`` steps, and take from what is ``free``, by steps.

    The upper and the lower half grow at the same time; what starts so near to the line
    between them that it may cross it grows after both, step by step. Of the pixels along the
    sides of the picture, from which a step could leave it, none is reached nor left.
    """
    rows, columns = free.shape
    sides = free[0], free[-1], free[:, 0], free[:, -1]
    kept = [side.copy() for side in sides]
    for side in sides:
        side[:] = False
    near = rows // 2 - GROW_PX - 1, rows // 2 + GROW_PX + 1
    bounds = [1, *(min(max(row, 1), rows - 1) for row in near), rows - 1]
    upper, middle, lower = (
        _first_front(known, columns, first, last) for first, last in pairwise(bounds)
    )
    reached: tuple[list[list[Front]], ...] = [], [], []
    for step, ways in enumerate(STEPS):
        further = partial(_step, free, ways, STEPS[step + 1] if step + 1 < GROW_PX else ())
        upper, lower = in_two(further, upper, lower)
        middle = further(middle)
        for fronts, front in zip(reached, (upper, middle, lower), strict=True):
            fronts.append(front)
    for side, was in zip(sides, kept, strict=True):
        side[:] = was
    return sum(reached, [])


def _first_front(known: Listed, columns: int, first: int, last: int) -> list[Front]:
    """The pixels of objects from one row of the picture up to another."""
    part = slice(*np.searchsorted(known.at, [first * columns, last * columns]))
    runs = slice(*np.searchsorted(known.runs.first, [first * columns, last * columns]))
    begin, owner = known.runs.first[runs], known.runs.own[runs]
    end = begin + known.runs.length[runs] - 1
    across, back, *down_and_up = CROSS
    fronts = [(known.at[part], known.label[part], frozenset(down_and_up))]
    for at, way, side in ((end, across, 0), (begin, back, columns - 1)):
        inside = np.flatnonzero(rows_and_columns(at, columns)[1] != side)
        fronts.append((at[inside], owner[inside], frozenset({way})))
    return fronts


def _step(
    free: BoolImage, ways: tuple[Way, ...], next_ways: tuple[Way, ...], fronts: list[Front]
) -> list[Front]:
    """One step outwards from fronts over free ground; who reaches a pixel first keeps it."""
    flat, columns = free.ravel(), free.shape[1]
    furthest = columns + 1
    starts = [at - furthest for at, _, _ in fronts]  # from there on to all that lies beside
    reached = []
    for way in ways:
        places, owners = [], []
        offset = furthest + way[0] * columns + way[1]
        beside = flat[offset:]
        for start, (_, owner, open_ways) in zip(starts, fronts, strict=True):
            if way in open_ways:
                which = np.flatnonzero(beside.take(start))
                at = start.take(which)
                beside[at] = False
                at += offset
                places.append(at)
                owners.append(owner.take(which))
        # Beside where it came from, nothing is left free.
        open_ways = frozenset(
            onward
            for onward in next_ways
            if (between := (way[0] + onward[0], way[1] + onward[1])) != (0, 0)
            and between not in ways
        )
        reached.append((np.concatenate(places), np.concatenate(owners), open_ways))
    return reached
