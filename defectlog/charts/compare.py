"""Two groups compared: how far apart, how sure, and whether chance alone would do it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectlog.charts.chart import ChartInputError, TooFewValuesError, clean
from defectlog.charts.levels import apart, level_of, turn_for
from defectlog.charts.skewed import Turn

# Up to here every way of splitting the values counts.
MOST_SPLITS = 200_000
_DRAWS = 20_000
_DEALT = 2_000
# Sums of the same values in another order differ by rounding; a split that ties must count.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Comparison:
    """Mean of the first group less mean of the second, in the unit of the values.

    ``low`` and ``high`` are the 95 % interval, worked out on the scale ``turn``; ``p_value`` is
    two-sided from splitting the values anew, ``splits`` how many splits were looked at,
    ``method`` says "every split" or "random splits". ``first_larger`` is the share of pairs,
    0–1, in which the value of the first group is the larger one, ties counting half: the size of
    the effect without a unit.
    """

    mean_a: float
    mean_b: float
    difference: float
    low: float
    high: float
    p_value: float
    splits: int
    method: str
    first_larger: float
    confidence: float = 0.95
    turn: Turn = Turn.NONE

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves out 0."""
        return self.low > 0 or self.high < 0


def compare(
    a: Iterable[float],
    b: Iterable[float],
    *,
    confidence: float = 0.95,
    random_state: int = 0,
    turn: Turn | None = None,
) -> Comparison:
    """Compare two groups of values that were made independently of each other.

    Parameters
    ----------
    a, b : at least 2 numbers each, one unit
    confidence : 0–1, optional
        Of the interval.
    random_state : int, optional
        Start of the random splits where there are too many to go through; the same start
        gives the same answer.
    turn : Turn, optional
        The scale of the interval; if not given, values of which none lies below 0 are taken to
        have a floor there (``levels.turn_for``).

    Returns
    -------
    Comparison

    Raises
    ------
    TooFewValuesError
        If a group has fewer than 2 values.
    ChartInputError
        If a value is missing or not finite.

    Notes
    -----
    p-value: permutation test on the difference of means (B. Efron and R. J. Tibshirani, An
    Introduction to the Bootstrap, 1993, ch. 15), over every split if there are 200 000 or
    fewer, otherwise (count + 1) / (B + 1) over B = 20 000 random ones. Interval: B. L. Welch,
    Biometrika 34, 1947, which lets the groups spread differently, as voids before and after
    a change do; of values with a floor on the logarithms or roots of the means (``levels.apart``),
    for they are skewed. The two rest on different assumptions and may disagree close to the border.
    With no spread in either group the interval has no width: nothing in the values says how
    far the next one might stray.
    """
    first, second = _group(a), _group(b)
    difference = float(first.mean() - second.mean())
    scale = turn_for((first, second)) if turn is None else turn
    levels = (level_of([(1.0, group)], scale) for group in (first, second))
    low, high = apart(*levels, scale, confidence).difference
    number = math.comb(first.size + second.size, first.size)
    if number <= MOST_SPLITS:
        p_value, splits, method = _every_split(first, second), number, "every split"
    else:
        p_value, splits = _random_splits(first, second, random_state), _DRAWS
        method = "random splits"
    larger = np.sign(first[:, None] - second[None, :])
    return Comparison(
        mean_a=float(first.mean()),
        mean_b=float(second.mean()),
        difference=difference,
        low=low,
        high=high,
        p_value=p_value,
        splits=splits,
        method=method,
        first_larger=float((larger.mean() + 1) / 2),
        confidence=confidence,
        turn=scale,
    )


def _group(values: Iterable[float]) -> NDArray[np.float64]:
    taken = clean(values)
    if None in taken:
        raise ChartInputError("A value is missing", "leave it out of its group")
    if len(taken) < 2:
        raise TooFewValuesError(len(taken), 2, "one side of a comparison")
    return np.array(taken, dtype=np.float64)


def _every_split(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    pool = np.concatenate([first, second])
    pool -= pool.mean()
    # The difference of means moves with the sum of one group, and the smaller one is quicker.
    smaller = first if first.size <= second.size else second
    observed = abs(_centred_sum(smaller, first, second))
    slack = _ROUNDING * max(1e-300, float(np.abs(pool).sum()))
    bound = observed - slack
    if bound <= 0:
        return 1.0
    half = pool.size // 2
    left, right = (_sums_by_number(part, smaller.size) for part in (pool[:half], pool[half:]))
    extreme = 0
    for number, sums in enumerate(left):
        rest = smaller.size - number
        if rest < len(right):
            others = np.sort(right[rest])
            extreme += int(np.sum(others.size - np.searchsorted(others, bound - sums)))
            extreme += int(np.sum(np.searchsorted(others, -bound - sums, side="right")))
    return extreme / math.comb(pool.size, smaller.size)


def _sums_by_number(values: NDArray[np.float64], most: int) -> list[NDArray[np.float64]]:
    """The sum of every choice of 0, 1, 2 … of these values, up to ``most`` of them.

    Every split is a choice from one half of the values with one from the other, so that the
    choices of the halves are all that has to be gone through.
    """
    sums = [np.zeros(1)]
    for value in values:
        grown = [np.concatenate([a, b + value]) for a, b in zip(sums[1:], sums, strict=False)]
        sums = [sums[0], *grown, sums[-1] + value][: most + 1]
    return sums


def _random_splits(
    first: NDArray[np.float64], second: NDArray[np.float64], random_state: int
) -> float:
    pool = np.concatenate([first, second])
    pool -= pool.mean()
    smaller = first if first.size <= second.size else second
    observed = abs(_centred_sum(smaller, first, second))
    slack = _ROUNDING * max(1e-300, float(np.abs(pool).sum()))
    generator = np.random.default_rng(random_state)
    extreme = 0
    for _ in range(_DRAWS // _DEALT):
        dealt = generator.permuted(np.tile(pool, (_DEALT, 1)), axis=1)
        sums = np.abs(dealt[:, : smaller.size].sum(axis=1))
        extreme += int(np.count_nonzero(sums >= observed - slack))
    return (extreme + 1) / (_DRAWS + 1)


def _centred_sum(
    group: NDArray[np.float64], first: NDArray[np.float64], second: NDArray[np.float64]
) -> float:
    return float((group - np.concatenate([first, second]).mean()).sum())
