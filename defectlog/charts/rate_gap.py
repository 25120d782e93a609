"""Two rates of counted things apart: how far, how sure, and whether chance alone would do it."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scipy.stats import chi2
from scipy.stats import t as student

from defectlog.charts.chart import TooFewValuesError, clean_counts, clean_sizes
from defectlog.charts.compare import compare
from defectlog.charts.intervals import Interval


@dataclass(frozen=True, slots=True)
class Counted:
    """What was counted on several panels of one setting, and on how much each: n numbers each."""

    counts: Sequence[float]
    sizes: Sequence[float]

    @property
    def rate(self) -> float:
        """All that was counted over all the size it was counted on."""
        return math.fsum(self.counts) / math.fsum(self.sizes)


@dataclass(frozen=True, slots=True)
class Excess:
    """How many times as large the variance of counts is as chance alone would have it, from 1.

    ``low`` and ``high`` are its 95 % interval, ``freedom`` its degrees of freedom.
    """

    value: float
    low: float
    high: float
    freedom: int


@dataclass(frozen=True, slots=True)
class RateGap:
    """Rate of the first setting less that of the second, per unit of size.

    ``low`` and ``high`` are its interval, ``p_value`` two-sided from dealing the panels out anew.
    """

    rate_a: float
    rate_b: float
    difference: float
    low: float
    high: float
    excess: Excess
    p_value: float
    splits: int
    method: str


def excess_of(groups: Iterable[Counted]) -> Excess:
    """How much more counts differ within their groups than chance alone would have them.

    Parameters
    ----------
    groups : counts of panels made alike, with the size each was counted on
        Groups of one panel, or without anything counted, say nothing.

    Returns
    -------
    Excess
        At least 1 with both its ends: counts that happen to lie closer together than chance has
        them are no reason to be surer. Freedom 0 where nothing is known.

    Notes
    -----
    Pearson's chi-square over its degrees of freedom: P. McCullagh and J. A. Nelder, Generalized
    Linear Models, 2nd ed. 1989, 6.2.3. The interval takes it for a variance (NIST/SEMATECH
    e-Handbook, 1.3.5.8).
    """
    square, freedom = 0.0, 0
    for group in groups:
        if len(group.counts) > 1 and group.rate:
            expected = [group.rate * size for size in group.sizes]
            freedom += len(expected) - 1
            square += math.fsum(
                (count - mean) ** 2 / mean
                for count, mean in zip(group.counts, expected, strict=True)
            )
    if not freedom:
        return Excess(1.0, 1.0, math.inf, 0)
    low, high = (square / float(chi2.ppf(share, freedom)) for share in (0.975, 0.025))
    return Excess(max(1.0, square / freedom), max(1.0, low), max(1.0, high), freedom)


def rate_gap(a: Counted, b: Counted, *, confidence: float = 0.95) -> RateGap:
    """Compare the rates of two settings, such as pinholes per dm² on panels of unequal area.

    Parameters
    ----------
    a, b : at least 2 panels each
        Counts are whole numbers from 0, sizes above 0 in one unit.
    confidence : 0–1, optional

    Returns
    -------
    RateGap

    Raises
    ------
    TooFewValuesError
        If a setting has fewer than 2 panels.
    ChartInputError
        If a count is negative or not whole, or a size not above 0.

    Notes
    -----
    Limits of each rate by the score, (count − mean)² = t² · excess · mean, so that a count of 0
    has an upper one; joined by the method of G. Y. Zou and A. Donner, Statistics in Medicine 27,
    2008. Panels differ by more than chance: the excess is that of both settings together, and t
    has its degrees of freedom; without any it is z. p-value: permutation test (see ``compare``)
    on what each panel has above or below its share of all that was counted.
    """
    for side in (a, b):
        if len(side.counts) < 2:
            raise TooFewValuesError(len(side.counts), 2, "one side of a comparison")
        clean_sizes(side.sizes, len(clean_counts(side.counts)))
    excess = excess_of((a, b))
    # What chance alone does is known; an excess beyond it is not, and t makes room for that.
    freedom = excess.freedom if excess.value > 1 else math.inf
    if not excess.freedom:
        # Where nothing at all was counted, chance alone is a guess.
        freedom = len(a.counts) + len(b.counts) - 2
    reach = float(student.ppf((1 + confidence) / 2, freedom)) ** 2 * excess.value
    own, other = (_limits(side, reach) for side in (a, b))
    difference = a.rate - b.rate
    p_value, splits, method = _chance(a, b)
    return RateGap(
        rate_a=a.rate,
        rate_b=b.rate,
        difference=difference,
        low=difference - math.hypot(a.rate - own.low, other.high - b.rate),
        high=difference + math.hypot(own.high - a.rate, b.rate - other.low),
        excess=excess,
        p_value=p_value,
        splits=splits,
        method=method,
    )


def _limits(side: Counted, reach: float) -> Interval:
    count, size = math.fsum(side.counts), math.fsum(side.sizes)
    middle, half = count + reach / 2, math.sqrt(reach * (count + reach / 4))
    return Interval(max(0.0, middle - half) / size, (middle + half) / size)


def _chance(a: Counted, b: Counted) -> tuple[float, int, str]:
    size = math.fsum(a.sizes) + math.fsum(b.sizes)
    rate = (math.fsum(a.counts) + math.fsum(b.counts)) / size
    left = [
        [count - rate * size for count, size in zip(side.counts, side.sizes, strict=True)]
        for side in (a, b)
    ]
    found = compare(*left)
    return found.p_value, found.splits, found.method
