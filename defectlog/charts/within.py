"""Two settings compared inside each of several groups: difference and ratio of their means."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectlog.charts.chart import TooFewValuesError, clean
from defectlog.charts.compare import MOST_SPLITS, compare
from defectlog.charts.levels import apart, level_of, turn_for
from defectlog.charts.skewed import Turn

# At most so many random splits; fewer once so many came out as far.
_DRAWS = 10_000
_ENOUGH = 200
_BLOCK = 1_000
_ROUNDING = 1e-9

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ratio:
    """How many times the second mean the first one is, with its interval.

    ``low`` and ``high`` are None where the second mean is not clearly above 0: then no ratio
    can be ruled out.
    """

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class WithinMeans:
    """Means of two settings over the same mix of groups, the first less the second.

    ``low`` and ``high`` are the interval of ``difference``. ``ratio`` is None where the second
    mean is 0. ``used`` are the indices of the groups that had two or more values of both.
    """

    mean_a: float
    mean_b: float
    difference: float
    low: float
    high: float
    ratio: Ratio | None
    used: tuple[int, ...]
    confidence: float = 0.95
    turn: Turn = Turn.NONE

    @property
    def leaves_out_0(self) -> bool:
        """Whether the interval of the difference does."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class WithinComparison:
    """Two settings compared inside groups: their ``means``, and whether chance would do it.

    ``p_value`` is two-sided, from ``splits`` ways to deal out the values of each group anew,
    ``method`` "every split" or "random splits".
    """

    means: WithinMeans
    p_value: float
    splits: int
    method: str

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves out 0; without any width chance has to be ruled out too."""
        means = self.means
        has_width = means.high > means.low
        return means.leaves_out_0 and (has_width or self.p_value <= 1 - means.confidence)


def compare_within(
    groups: Sequence[tuple[Sequence[float], Sequence[float]]],
    *,
    confidence: float = 0.95,
    random_state: int = 0,
    turn: Turn | None = None,
) -> WithinComparison:
    """Compare two settings inside groups that differ anyway, such as parts.

    Parameters
    ----------
    groups : pairs of values, one unit
        Values of the first and of the second setting of each group. A group with fewer than
        two of either says nothing and is left out.
    confidence : 0–1, optional
    random_state : int, optional
        Start of the random splits; the same start gives the same answer.
    turn : Turn, optional
        The scale of the intervals; if not given it is chosen by the values (``levels.turn_for``).

    Returns
    -------
    WithinComparison
        Of one group it is ``compare`` of its two settings, but for fewer random splits.

    Raises
    ------
    TooFewValuesError
        If no group has two values of both settings.
    ChartInputError
        If a value is not finite.

    Notes
    -----
    Each group weighs n_a n_b / (n_a + n_b), as in a two-way analysis without interaction, and
    both means are taken with these weights (direct standardisation). Intervals: ``levels.apart``,
    with the freedom of all cells; that of the ratio leaves out 1 just where that of the
    difference leaves out 0. p-value: every value dealt out anew inside its group, statistic
    the weighted difference of means (Efron and Tibshirani 1993, ch. 15), 10 000 times or until
    200 came out as far (J. Besag and P. Clifford, Biometrika 78, 1991).
    """
    cells = [(_clean(a), _clean(b)) for a, b in groups]
    means = means_within(groups, confidence=confidence, turn=turn)
    p_value, splits, method = _chance([cells[index] for index in means.used], random_state)
    return WithinComparison(means, p_value, splits, method)


def means_within(
    groups: Sequence[tuple[Sequence[float], Sequence[float]]],
    *,
    confidence: float = 0.95,
    turn: Turn | None = None,
) -> WithinMeans:
    """The means of ``compare_within`` without its p-value, which takes longest.

    Raises
    ------
    TooFewValuesError, ChartInputError
        As for ``compare_within``.
    """
    cells = [(_clean(a), _clean(b)) for a, b in groups]
    used = tuple(i for i, (a, b) in enumerate(cells) if min(a.size, b.size) >= 2)
    if not used:
        most = max((min(a.size, b.size) for a, b in cells), default=0)
        raise TooFewValuesError(most, 2, "one side of a comparison")
    kept = [cells[index] for index in used]
    weights = np.array([a.size * b.size / (a.size + b.size) for a, b in kept])
    weights /= weights.sum()
    scale = turn_for(side for cell in kept for side in cell) if turn is None else turn
    first, second = (
        level_of([(w, cell[side]) for w, cell in zip(weights, kept, strict=True)], scale)
        for side in (0, 1)
    )
    found = apart(first, second, scale, confidence)
    ratio = None
    if second.mean != 0:
        ratio = Ratio(first.mean / second.mean, *(found.ratio or (None, None)))
    return WithinMeans(
        mean_a=first.mean,
        mean_b=second.mean,
        difference=first.mean - second.mean,
        low=found.difference.low,
        high=found.difference.high,
        ratio=ratio,
        used=used,
        confidence=confidence,
        turn=scale,
    )


def _clean(values: Sequence[float]) -> Floats:
    return np.array([value for value in clean(values) if value is not None], dtype=np.float64)


def _chance(kept: Sequence[tuple[Floats, Floats]], random_state: int) -> tuple[float, int, str]:
    a, b = kept[0]
    if len(kept) == 1 and math.comb(a.size + b.size, a.size) <= MOST_SPLITS:
        found = compare(a.tolist(), b.tolist(), random_state=random_state)
        return found.p_value, found.splits, found.method
    return *_random_splits(kept, random_state), "random splits"


def _random_splits(kept: Sequence[tuple[Floats, Floats]], random_state: int) -> tuple[float, int]:
    """The weighted difference moves with the sum of the first settings, each group about its mean.

    A weight n_a n_b / N times a difference of means is that sum, so no weights are left.
    """
    pools = [np.concatenate(cell) - np.concatenate(cell).mean() for cell in kept]
    firsts = [a.size for a, _ in kept]
    observed = abs(sum(float(p[:n].sum()) for p, n in zip(pools, firsts, strict=True)))
    slack = _ROUNDING * max(1e-300, sum(float(np.abs(pool).sum()) for pool in pools))
    generator = np.random.default_rng(random_state)
    extreme = 0
    for tried in range(0, _DRAWS, _BLOCK):
        sums = np.zeros(_BLOCK)
        for pool, number in zip(pools, firsts, strict=True):
            dealt = generator.permuted(np.tile(pool, (_BLOCK, 1)), axis=1)
            sums += dealt[:, :number].sum(axis=1)
        far = np.cumsum(np.abs(sums) >= observed - slack)
        if extreme + far[-1] >= _ENOUGH:
            last = tried + int(np.searchsorted(far, _ENOUGH - extreme)) + 1
            return _ENOUGH / last, last
        extreme += int(far[-1])
    return (extreme + 1) / (_DRAWS + 1), _DRAWS
