"""Confidence intervals of a share, a mean, a count, and the ratio of two rates."""

import math
from dataclasses import dataclass
from typing import NamedTuple

from scipy.optimize import brentq
from scipy.special import betainc, ndtri
from scipy.stats import beta, chi2
from scipy.stats import t as student

from defectlog.charts.chart import ChartInputError

# An excess of 1 may come out a last digit above it, and is then no excess to allow for.
_ROUNDING = 1e-9


class Interval(NamedTuple):
    """Both ends of a confidence interval, in the unit of the estimate."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class RateRatio:
    """How many times the first rate is the second, with its interval.

    ``ratio`` is infinite when only the second count is 0, and None when both are.
    """

    ratio: float | None
    low: float
    high: float


def wilson(count: int, number: int, *, confidence: float = 0.95) -> Interval | None:
    """Score interval of a share: count of number, both whole, 0 <= count <= number.

    None when nothing was looked at. The ends are exactly 0 at count 0 and 1 at count number.

    Raises
    ------
    ChartInputError
        If the numbers are negative, not whole, or the count is above the number.

    Notes
    -----
    E. B. Wilson, J. Am. Stat. Assoc. 22, 1927; NIST/SEMATECH e-Handbook, 7.2.4.1, where a
    one-sided bound of 95 % is the end of a two-sided interval of 90 %.
    """
    _check_share(count, number)
    if number == 0:
        return None
    z = _two_sided_z(confidence)
    share = count / number
    centre = share + z * z / (2 * number)
    reach = z * math.sqrt(share * (1 - share) / number + (z / (2 * number)) ** 2)
    scale = 1 + z * z / number
    low = 0.0 if count == 0 else (centre - reach) / scale
    high = 1.0 if count == number else (centre + reach) / scale
    return Interval(low, high)


def exact_share(count: int, number: int, *, confidence: float = 0.95) -> Interval | None:
    """Exact binomial interval of a share; never too narrow, often too wide.

    None when nothing was looked at.

    Raises
    ------
    ChartInputError
        If the numbers are negative, not whole, or the count is above the number.

    Notes
    -----
    C. J. Clopper and E. S. Pearson, Biometrika 26, 1934, by quantiles of the beta distribution.
    """
    _check_share(count, number)
    if number == 0:
        return None
    return _beta_ends(count, number, confidence)


def _beta_ends(count: float, number: float, confidence: float) -> Interval:
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(beta.ppf(tail, count, number - count + 1))
    high = 1.0 if count == number else float(beta.ppf(1 - tail, count + 1, number - count))
    return Interval(low, high)


def _mid_ends(count: float, number: float, confidence: float) -> Interval:
    """Mid-P limits of a share: where half of the outcome itself and all beyond make a tail."""
    tail = (1 - confidence) / 2
    rest = number - count

    def above(share: float) -> float:
        at_least = float(betainc(count, rest + 1, share)) if count > 0 else 1.0
        more = float(betainc(count + 1, rest, share)) if rest > 0 else 0.0
        return (at_least + more) / 2

    low = 0.0 if count == 0 else float(brentq(lambda share: above(share) - tail, 0, 1))
    high = 1.0 if rest <= 0 else float(brentq(lambda share: above(share) - 1 + tail, 0, 1))
    return Interval(low, high)


def poisson_limits(count: int, *, confidence: float = 0.95) -> Interval:
    """Exact limits of the mean behind one count, whole and from 0.

    Raises
    ------
    ChartInputError
        If the count is negative or not whole.

    Notes
    -----
    F. Garwood, Biometrika 28, 1936, by quantiles of chi-square. At count 0 and one-sided
    95 % the upper limit is the "rule of three".
    """
    if count < 0 or count != int(count):
        raise ChartInputError(f"{count:g} is no count", "count in whole numbers from 0")
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(chi2.ppf(tail, 2 * count)) / 2
    return Interval(low, float(chi2.ppf(1 - tail, 2 * count + 2)) / 2)


def rate_ratio(
    count_a: int,
    size_a: float,
    count_b: int,
    size_b: float,
    *,
    confidence: float = 0.95,
    excess: float = 1.0,
    freedom: int | None = None,
    mid: bool = False,
) -> RateRatio:
    """Compare two rates, such as pinholes per cm² before and after a change.

    Parameters
    ----------
    count_a, count_b : whole numbers from 0
    size_a, size_b : above 0, both in one unit
        What each count was made on.
    excess : from 1, optional
        How many times as large the variance of the counts is as chance alone would have it;
        see ``dispersion.excess_variance``.
    freedom : from 1, optional
        Degrees of freedom the excess rests on; an excess above 1 from few counts is unsure, and
        widens the interval as t does. None where it is known.
    mid : bool, optional
        Count the outcome itself half in either tail. The exact interval never promises too much
        and holds the truth far more often than it says; this one does about as often.

    Returns
    -------
    RateRatio
        (count_a / size_a) / (count_b / size_b).

    Raises
    ------
    ChartInputError
        If a count is negative or not whole, a size is not above 0, or the excess is below 1.

    Notes
    -----
    Given their sum, the first count is binomial; its exact interval is turned into one of
    the ratio (J. Przyborowski and H. Wilenski, Biometrika 31, 1940). Clustered counts say as
    much as that many fewer: both are divided by the excess (quasi-likelihood; P. McCullagh and
    J. A. Nelder, Generalized Linear Models, 2nd ed. 1989, 6.2.3). Mid-P: G. Berry and P.
    Armitage, The Statistician 44, 1995.
    """
    if not (size_a > 0 and size_b > 0):
        raise ChartInputError("A rate was asked of no size", "give what was inspected, above 0")
    if not excess >= 1:
        raise ChartInputError(f"An excess of {excess:g} is below chance", "give 1 or more")
    share = exact_share(count_a, count_a + count_b, confidence=confidence)
    if excess > 1 + _ROUNDING and freedom is not None:
        wider = float(student.ppf((1 + confidence) / 2, freedom)) / _two_sided_z(confidence)
        excess *= wider**2
    if (excess > 1 or mid) and count_a + count_b > 0:
        ends = _mid_ends if mid else _beta_ends
        share = ends(count_a / excess, (count_a + count_b) / excess, confidence)
    if share is None:
        return RateRatio(None, 0.0, math.inf)
    ratio = math.inf if count_b == 0 else count_a / size_a / (count_b / size_b)
    low = share.low / (1 - share.low) * size_b / size_a
    high = math.inf if count_b == 0 else share.high / (1 - share.high) * size_b / size_a
    return RateRatio(ratio, low, high)


def _two_sided_z(confidence: float) -> float:
    return float(ndtri((1 + confidence) / 2))


def _check_share(count: int, number: int) -> None:
    if not 0 <= count <= number or count != int(count) or number != int(number):
        raise ChartInputError(
            f"{count:g} of {number:g} is no share", "count in whole numbers, some of all"
        )
