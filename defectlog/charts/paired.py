"""Two settings made on the same days: how far their means are apart."""

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from defectlog.charts.intervals import Interval
from defectlog.charts.levels import turn_for
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
    n = differences.size
    if n < 2:
        return None
    middle = float(differences.mean())
    variance = float(differences.var(ddof=1)) / n
    if turn_for([first, second]) is not Turn.NONE:
        variance *= 1 + _SPREAD_TOO_SMALL * _skew(np.asarray(first), np.asarray(second))
    reach = float(stdtrit(n - 1, (1 + confidence) / 2)) * math.sqrt(variance)
    return Interval(middle - reach, middle + reach)


def _skew(first: np.ndarray, second: np.ndarray) -> float:
    """How skewed differences are: the values' squared variation, as far as the means differ."""
    means = np.array([first.mean(), second.mean()])
    spreads = np.array([first.var(ddof=1), second.var(ddof=1)])
    if means.min() <= 0 or spreads.sum() == 0:
        return 0.0
    varied = float((spreads**2 / means**2).sum() / spreads.sum())
    apart = abs(means[0] - means[1]) / means.sum()
    return apart * varied * first.size / (first.size - 1)
