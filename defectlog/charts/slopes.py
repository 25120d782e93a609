"""How far a result moves with a number or a setting: the middle of what all pairs say."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

# Up to so many times Kendall's variance the placements of settings that spread alike often say.
UNLIKE = 1.3

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
    builds hardly move it; values drawn from unlike shapes make it hard to read. Settings may
    spread differently: where the variance of the placements (M. A. Fligner and G. E. Policello,
    J. Am. Stat. Assoc. 76, 1981) asks for clearly more room than Kendall's, it is given.
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
    span = float(xs.max() - xs.min())
    ordered = np.sort(np.concatenate(slopes))
    middle = float(np.median(ordered))
    if np.unique(xs).size == 2:
        placed = (
            _placement_variance(xs[groups == group] == xs.max(), ys[groups == group], middle * span)
            for group in np.unique(groups)
        )
        room = sum(placed)
        variance = room if room > UNLIKE * variance else variance
    reach = float(ndtri((1 + confidence) / 2)) * math.sqrt(variance)
    lower = max(0, round((ordered.size - reach) / 2) - 1)
    upper = min(ordered.size - 1, round((ordered.size + reach) / 2))
    return Slope(
        middle,
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


def _placement_variance(is_second: NDArray[np.bool_], y: Floats, shift: float) -> float:
    """Variance of the sum of signs of all pairs of two settings, each with a spread of its own."""
    first, second = y[~is_second], y[is_second] - shift
    if min(first.size, second.size) < 2:
        return 0.0
    signs = np.sign(second[:, None] - first[None, :])
    return float(
        second.size * np.var(signs.sum(axis=1), ddof=1)
        + first.size * np.var(signs.sum(axis=0), ddof=1)
    )


def _kendall_variance(x: Floats, y: Floats) -> float:
    number = x.size
    total = number * (number - 1) * (2 * number + 5)
    for values in (x, y):
        ties = np.unique(values, return_counts=True)[1].astype(np.float64)
        total -= float(np.sum(ties * (ties - 1) * (2 * ties + 5)))
    return max(0.0, total / 18)
