"""How far a result moves with a number or a setting: the middle of what all pairs say."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slope:
    """Change of the result for one unit of the other, with its interval; from ``pairs`` pairs."""

    value: float
    low: float
    high: float
    pairs: int
    confidence: float = 0.95


def middle_slope(
    x: Sequence[float],
    y: Sequence[float],
    *,
    strata: Sequence[int] | None = None,
    confidence: float = 0.95,
) -> Slope | None:
    """The slope that half of all pairs of builds lie above.

    Parameters
    ----------
    x : numbers
        A measured condition; or 0 and 1 for two settings, and then the slope is the shift
        between them.
    y : numbers, as many
        The result.
    strata : optional
        Group of each, such as its part: only pairs of one group are compared.
    confidence : 0–1, optional

    Returns
    -------
    Slope or None
        In units of y for one unit of x; None where no pair differs in x.

    Notes
    -----
    H. Theil, 1950; interval and ties after P. K. Sen, J. Am. Stat. Assoc. 63, 1968, by the
    normal approximation of Kendall's sum, whose variances add over groups. For two settings
    this is the shift of J. L. Hodges and E. L. Lehmann, Ann. Math. Stat. 34, 1963. A few wild
    builds hardly move it; values drawn from unlike shapes make it hard to read.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    groups = np.zeros(xs.size, dtype=np.int64) if strata is None else np.asarray(strata)
    if not xs.size == ys.size == groups.size:
        raise ValueError("x, y and strata differ in length")
    slopes, variance = [], 0.0
    for group in np.unique(groups):
        inside = groups == group
        found = _pair_slopes(xs[inside], ys[inside])
        if found.size:
            slopes.append(found)
            variance += _kendall_variance(xs[inside], ys[inside])
    if not slopes:
        return None
    ordered = np.sort(np.concatenate(slopes))
    reach = float(ndtri((1 + confidence) / 2)) * math.sqrt(variance)
    lower = max(0, round((ordered.size - reach) / 2) - 1)
    upper = min(ordered.size - 1, round((ordered.size + reach) / 2))
    return Slope(
        float(np.median(ordered)),
        float(ordered[lower]),
        float(ordered[upper]),
        int(ordered.size),
        confidence,
    )


def _pair_slopes(x: Floats, y: Floats) -> Floats:
    first, second = np.triu_indices(x.size, 1)
    apart = x[second] - x[first]
    differ = apart != 0
    return (y[second] - y[first])[differ] / apart[differ]


def _kendall_variance(x: Floats, y: Floats) -> float:
    number = x.size
    total = number * (number - 1) * (2 * number + 5)
    for values in (x, y):
        ties = np.unique(values, return_counts=True)[1].astype(np.float64)
        total -= float(np.sum(ties * (ties - 1) * (2 * ties + 5)))
    return max(0.0, total / 18)
