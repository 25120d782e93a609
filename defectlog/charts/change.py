"""Limits that hold until a marked change, and the search for a change nobody marked."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from defectlog.charts.chart import ControlChart, TooFewValuesError, Value, clean
from defectlog.charts.individuals import individuals

# Four and four are the fewest that can show a change at the usual 5 %: 2 of 70 splits are as
# far apart as the farthest. With three and three it is 2 of 20.
LEAST_PER_PHASE = 4
# Limits rest on the steps between neighbours, and three steps are no ground for any.
LEAST_FOR_LIMITS = 5
_DRAWS = 2_000
# Numbers shuffled in one go: enough to be quick, few enough for any machine.
_MOST_AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of values, ``start`` up to and without ``stop``, under one set of limits.

    ``chart`` holds the values of this stretch alone, its indices counting from ``start``;
    None while there are fewer than 5 values.
    """

    start: int
    stop: int
    chart: ControlChart | None


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Where the level most likely shifted: ``index`` is the first value of the new level.

    ``p_value`` is how often values in random order show a shift as marked as this one.
    """

    index: int
    mean_before: float
    mean_after: float
    p_value: float


def individuals_by_phase(
    values: Iterable[Value],
    changes: Sequence[int] = (),
    *,
    lowest: float | None = None,
    least: int = LEAST_PER_PHASE,
) -> tuple[Phase, ...]:
    """Chart single values with limits that are computed anew only at marked changes.

    Parameters
    ----------
    values : n numbers in one unit, or None for a build without a value
    changes : indices from 0, most telling first
        Each is the first value made after something was changed on purpose.
    lowest : same unit, optional
        The smallest value there can be; see ``individuals``.
    least : int, optional
        A change splits the limits only if this many values stand on either side of it, up
        to the changes that split already; the others do not move the limits.

    Returns
    -------
    tuple of Phase
        In order, without gaps between them, at least one if there are values.

    Raises
    ------
    ChartInputError
        If a value is not finite.

    Notes
    -----
    Limits that follow every wobble detect nothing; so a person's mark, and enough values,
    are needed to move them.
    """
    taken = clean(values)
    return tuple(
        Phase(start, stop, _chart(taken[start:stop], lowest))
        for start, stop in stretches(taken, changes, least=least)
    )


def stretches(
    values: Sequence[Value], changes: Sequence[int] = (), *, least: int = LEAST_PER_PHASE
) -> tuple[tuple[int, int], ...]:
    """Where limits begin and end: (start, stop) of each stretch, stop not included.

    As in ``individuals_by_phase``: changes most telling first, and one splits only if ``least``
    values stand on either side of it.
    """
    edges = [0, len(values)]
    for change in changes:
        if change in edges or not 0 < change < len(values):
            continue
        before = max(edge for edge in edges if edge < change)
        after = min(edge for edge in edges if edge > change)
        if min(_known(values[before:change]), _known(values[change:after])) >= least:
            edges = sorted([*edges, change])
    return tuple(
        (start, stop) for start, stop in zip(edges, edges[1:], strict=False) if stop > start
    )


def change_point(values: Iterable[float], *, random_state: int = 0) -> ChangePoint:
    """Find the one place where a shift of the mean explains the values best.

    Parameters
    ----------
    values : at least 4 numbers in one unit, in the order they were made
    random_state : int, optional
        Start of the random orders; the same start gives the same answer.

    Returns
    -------
    ChangePoint
        It always names a place; whether there was a change is for ``p_value`` to say.

    Raises
    ------
    TooFewValuesError
        If there are fewer than 4 values.
    ChartInputError
        If a value is not finite.

    Notes
    -----
    Least squares over all splits in two, each part at least 2 values long; the p-value by
    2 000 random orders, (count + 1) / (B + 1). A slow drift also gives a small p-value.
    """
    taken = [value for value in clean(values) if value is not None]
    if len(taken) < 4:
        raise TooFewValuesError(len(taken), 4, "a search for a change")
    series = np.array(taken)
    series -= series.mean()
    gains = _gains(series[np.newaxis])[0]
    index = 2 + int(np.argmax(gains))
    slack = 1e-9 * float((series**2).sum())
    as_marked = _as_marked(series, float(gains.max()) - slack, random_state)
    return ChangePoint(
        index=index,
        mean_before=math.fsum(taken[:index]) / index,
        mean_after=math.fsum(taken[index:]) / (len(taken) - index),
        p_value=(as_marked + 1) / (_DRAWS + 1),
    )


def _known(values: Sequence[Value]) -> int:
    return sum(value is not None for value in values)


def _chart(values: Sequence[Value], lowest: float | None) -> ControlChart | None:
    if _known(values) < LEAST_FOR_LIMITS:
        return None
    try:
        return individuals(values, lowest=lowest)
    except TooFewValuesError:  # enough values, but no two of them neighbours
        return None


def _as_marked(centred: np.ndarray, gain: float, random_state: int) -> int:
    """How many of the random orders show a shift that explains at least so much."""
    generator = np.random.default_rng(random_state)
    at_once = max(1, _MOST_AT_ONCE // centred.size)
    found = 0
    for start in range(0, _DRAWS, at_once):
        orders = np.tile(centred, (min(at_once, _DRAWS - start), 1))
        best = _gains(generator.permuted(orders, axis=1)).max(axis=1)
        found += int((best >= gain).sum())
    return found


def _gains(centred: np.ndarray) -> np.ndarray:
    """How much of the sum of squares a split before value 2, 3, … explains, row by row."""
    size = centred.shape[1]
    places = np.arange(2, size - 1)
    sums = np.cumsum(centred, axis=1)[:, 1 : size - 2]
    return sums**2 * size / (places * (size - places))
