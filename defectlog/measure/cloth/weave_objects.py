"""What repeats with the weave is cloth, not a void: tracer yarns and the gaps of the tows."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray, Listed, Runs, rows_and_columns
from defectlog.measure.cloth.weave import Vector

LEAST_REPEATING = 4  # objects; fewer say nothing
SIMILAR = 2.5  # times the area, either way
COVERED = 0.4
TIMES_CHANCE = 4.0
FEW, SAME_STEP = 300, 0.12  # objects whose own spacing is looked at; and how even it has to be
LEAST_OF_ALL = 0.2  # of what stands out, in number or in area, that the cloth's own parts are
SAMPLES = 10  # pixels an object is represented by

Points = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]  # y, x, object


@dataclass(frozen=True, slots=True)
class Objects:
    """What may repeat with the weave: the objects of a mask, by labels from 1.

    ``at`` are their pixels in the flattened picture and ``label`` the object of each, ``runs`` the
    same run by run; ``areas`` are in the order of the labels, 0 being the surface; ``middles``
    their centres.
    """

    mask: BoolImage
    at: IndexArray
    label: IndexArray
    runs: Runs
    areas: FloatArray
    middles: Points

    def at_places(self, row: IndexArray, column: IndexArray) -> IndexArray:
        """The labels of places, 0 where there is no object or which are not on the picture."""
        rows, columns = self.mask.shape
        on = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        place = row * columns + column
        held = np.flatnonzero(self.mask.ravel().take(place, mode="clip") & on)
        labels = np.zeros(len(place), np.int32)
        labels[held] = self.runs.of(place[held])
        return labels

    def drawn(self, which: BoolImage) -> BoolImage:
        """A mask of some of the objects."""
        mask = np.zeros_like(self.mask)
        mask.ravel()[self.at[which[self.label]]] = True
        return mask


def objects_of(mask: BoolImage, known: Listed) -> Objects:
    """Areas and centres of the objects of a mask whose pixels have been listed."""
    length, own = known.runs.length, known.runs.own
    row, first = rows_and_columns(known.runs.first, mask.shape[1])
    areas = np.append(0.0, known.area)
    there = np.flatnonzero(areas)
    y, x = (
        np.rint(np.bincount(own, length * middle)[there] / areas[there]).astype(np.int64)
        for middle in (row, first + (length - 1) / 2)
    )
    label = known.label.astype(np.int64)
    return Objects(mask, known.at, label, known.runs, areas, (y, x, there))


def repeating(objects: Objects, vectors: list[Vector]) -> BoolImage:
    """Say which objects recur at the weave's repeat.

    Parameters
    ----------
    objects : from ``objects_of``
    vectors : of the weave, from ``weave.repeats_of``

    Returns
    -------
    (n + 1,) bool array, True for objects of the weave; all False if no more recur than
    would by chance.

    Notes
    -----
    An object recurs if other objects of about its size cover it when moved by the repeat to
    two neighbouring places of four (two steps either way).
    """
    nothing = np.zeros(len(objects.areas), dtype=bool)
    vectors = vectors + _own_repeat(objects)
    if len(objects.areas) <= LEAST_REPEATING or not vectors:
        return nothing
    # The same lengths in directions the cloth does not have.
    decoys = [(round(0.83 * dy - 0.55 * dx), round(0.55 * dy + 0.83 * dx)) for dy, dx in vectors]
    cut = _cut_by_edge(objects)

    def recurring(points: Points) -> tuple[BoolImage, BoolImage]:
        return in_two(lambda some: _recurring(objects, cut, points, some), vectors, decoys)

    # Their middles alone first: where those meet nothing, the rest need not be looked up.
    recurs, chance = recurring(objects.middles)
    if _prove_nothing(recurs, chance, objects.areas):
        return nothing
    recurs, chance = recurring(_samples(objects, recurs | chance))
    return nothing if _prove_nothing(recurs, chance, objects.areas) else recurs


def _own_repeat(objects: Objects) -> list[Vector]:
    """The way from each of a few objects to the next of its size, where it is the same for most.

    A tracer yarn shows every other time that it comes up: a repeat the cloth around need not
    have among its strongest.
    """
    y, x, known = objects.middles
    if not LEAST_REPEATING <= len(known) <= FEW:
        return []
    area = objects.areas[known]
    alike = (area[:, None] < SIMILAR * area) & (area < SIMILAR * area[:, None])
    np.fill_diagonal(alike, False)
    down, across = y - y[:, None], x - x[:, None]
    far = np.where(alike, np.hypot(down, across), np.inf)
    nearest = far.argmin(axis=1)
    some = np.flatnonzero(np.isfinite(far[np.arange(len(known)), nearest]))
    if not len(some):
        return []
    steps = np.column_stack([down[some, nearest[some]], across[some, nearest[some]]])
    steps[(steps[:, 0] < 0) | ((steps[:, 0] == 0) & (steps[:, 1] < 0))] *= -1
    step = np.median(steps, axis=0)
    same = np.hypot(*(steps - step).T) < SAME_STEP * np.hypot(*step)
    if np.count_nonzero(same) < 0.5 * len(known):
        return []
    down, across = steps[same].mean(axis=0)
    return [(round(float(down)), round(float(across)))]


def _prove_nothing(recurs: BoolImage, chance: BoolImage, areas: FloatArray) -> bool:
    """Whether no more recurs than would by chance."""
    share, by_chance = (float(areas[which].sum()) for which in (recurs, chance))
    count, of_all = np.count_nonzero(recurs), np.count_nonzero(areas[1:])
    if share <= TIMES_CHANCE * by_chance or count < LEAST_REPEATING:
        return True
    return share < LEAST_OF_ALL * float(areas[1:].sum()) and count < LEAST_OF_ALL * of_all


def _samples(objects: Objects, which: BoolImage) -> Points:
    """A few points all over each of some objects."""
    runs = np.flatnonzero(which[objects.runs.own])
    runs = runs[np.argsort(objects.runs.own[runs], kind="stable")]
    length = objects.runs.length[runs]
    upto = length.cumsum()
    known = np.flatnonzero(which)
    area = objects.areas[known].astype(np.int64)
    step = np.maximum(1, (area / SAMPLES)).astype(np.int64)
    often = -(-area // step)
    # The pixels of one object follow those of another, run by run; so many of each are passed.
    passed = np.repeat(area.cumsum() - area, often)
    among = np.arange(len(passed)) - np.repeat(often.cumsum() - often, often)
    place = passed + among * np.repeat(step, often)
    run = np.searchsorted(upto, place, side="right")
    at = objects.runs.first[runs[run]] + place - (upto - length)[run]
    y, x = np.divmod(at, objects.mask.shape[1])
    return y, x, np.repeat(known, often)


def _recurring(
    objects: Objects, cut: BoolImage, points: Points, vectors: list[Vector]
) -> BoolImage:
    """Which objects are covered by others of their size at any of the repeats."""
    longest = np.sqrt(objects.areas)  # an object longer than the repeat covers itself
    recurs = np.zeros(len(longest), dtype=bool)
    for dy, dx in vectors:
        asked = (longest < np.hypot(dy, dx)) & ~recurs
        recurs |= _covered(objects, cut, _those_of(points, asked), (dy, dx))
    recurs[0] = False
    return recurs


def _cut_by_edge(objects: Objects) -> BoolImage:
    """Objects the picture's edge cuts: of them only a part is there to compare."""
    row, column = (np.arange(side) for side in objects.mask.shape)
    cut = np.zeros(len(objects.areas), dtype=bool)
    for end in (0, -1):
        cut[objects.at_places(row, np.full_like(row, column[end]))] = True
        cut[objects.at_places(np.full_like(column, row[end]), column)] = True
    return cut


def _covered(objects: Objects, cut: BoolImage, points: Points, vector: Vector) -> BoolImage:
    """Which objects are covered at two neighbouring places of four, by a vector either way."""
    back, on = (_met(objects, cut, points, vector, times) for times in (-1, 1))
    # The places beyond those say nothing new of an object that is covered at neither.
    far_back, far_on = (
        _met(objects, cut, _those_of(points, near), vector, times)
        for near, times in ((back, -2), (on, 2))
    )
    return (far_back & back) | (back & on) | (on & far_on)


def _those_of(points: Points, which: BoolImage) -> Points:
    """The points of some objects."""
    few = np.flatnonzero(which[points[2]])
    return tuple(axis[few] for axis in points)


def _met(objects: Objects, cut: BoolImage, points: Points, vector: Vector, times: int) -> BoolImage:
    """Which objects are covered by others of their size when moved by so many times a vector."""
    areas = objects.areas
    y, x, label = points
    other = objects.at_places(y + times * vector[0], x + times * vector[1])
    met = np.flatnonzero((other > 0) & (other != label))
    own = label[met]
    ratio = areas[other[met]] / areas[own]
    alike = (ratio > 1 / SIMILAR) & ((ratio < SIMILAR) | cut[own])
    samples = np.maximum(np.bincount(label, minlength=len(areas)), 1)
    return np.bincount(own[alike], minlength=len(areas)) / samples > COVERED
