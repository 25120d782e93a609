"""Two settings made on the same days: how far their means are apart."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from defectlog.charts.intervals import Interval
from defectlog.charts.levels import level_of, mean_ends, turn_for
from defectlog.charts.skewed import Turn

# Came of trying skewed values, tests/benchmarks/honest_intervals.py.
_SPREAD_TOO_SMALL = 3.0


def paired_interval(
    first: Sequence[float], second: Sequence[float], *, confidence: float = 0.95
) -> Interval | None:
    """Interval of the mean difference of pairs, first less second; None from fewer than 2.

    Parameters
    ----------
    first, second : as many of each, one unit
        Values of the same day stand in the same place.
    confidence : 0–1, optional

    Notes
    -----
    Student's t of the differences (paired t; NIST/SEMATECH e-Handbook, 7.3.1). Of values that
    cannot fall below 0 and are skewed, the larger setting spreads more: their differences are
    then skewed themselves, and from few of them the spread comes out too small. So the variance
    is larger by three times the squared coefficient of variation of the values, by as much as
    the means differ, (a − b) / (a + b): not at all where both settings are alike.
    """
    differences = np.subtract(first, second, dtype=np.float64)
    if differences.size < 2:
        return None
    level = level_of([(1.0, differences)], Turn.NONE)
    if turn_for([first, second]) is not Turn.NONE:
        wider = 1 + _SPREAD_TOO_SMALL * _skew(np.asarray(first), np.asarray(second))
        level = replace(level, variance=wider * level.variance)
    return mean_ends(level, Turn.NONE, confidence)


def _skew(first: np.ndarray, second: np.ndarray) -> float:
    """How skewed differences are: the values' squared variation, as far as the means differ."""
    means = np.array([first.mean(), second.mean()])
    spreads = np.array([first.var(ddof=1), second.var(ddof=1)])
    if means.min() <= 0 or spreads.sum() == 0:
        return 0.0
    varied = float((spreads**2 / means**2).sum() / spreads.sum())
    apart = abs(means[0] - means[1]) / means.sum()
    return apart * varied * first.size / (first.size - 1)
