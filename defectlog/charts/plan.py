"""How many panels a trial needs, and the order to make them in."""

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scipy.optimize import brentq
from scipy.stats import chi2, nct
from scipy.stats import t as student

from defectlog.charts.chart import ChartInputError, TooFewValuesError
from defectlog.charts.intervals import Interval

# Past this a small shop will not make the panels, and the search has long left the useful range.
_PLAIN_EFFECT = 1_000.0
MOST_PER_SETTING = 100_000


@dataclass(frozen=True, slots=True)
class TrialSize:
    """Panels to make of each setting, and the unrounded number they come from."""

    per_setting: int
    exact: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation from panel to panel of one setting, and how sure it is.

    ``freedom`` are its degrees of freedom, ``low`` and ``high`` its 95 % interval, all but the
    first in the unit of the values.
    """

    freedom: int
    value: float
    low: float
    high: float


def pooled_spread(groups: Iterable[Sequence[float]], *, confidence: float = 0.95) -> Spread:
    """The spread within groups of values, each group about its own mean.

    Parameters
    ----------
    groups : values in one unit
        Builds made alike stand in one group. A group of one value says nothing of spread.

    Raises
    ------
    TooFewValuesError
        If no group holds two values.

    Notes
    -----
    Pooled variance; the interval by chi-square: NIST/SEMATECH e-Handbook, 1.3.5.8. It takes the
    values to vary about their mean by the bell curve.
    """
    held = [group for group in groups if len(group) > 1]
    freedom = sum(len(group) - 1 for group in held)
    if freedom == 0:
        raise TooFewValuesError(max(map(len, held), default=1), 2, "an estimate of spread")
    squares = math.fsum(
        (value - math.fsum(group) / len(group)) ** 2 for group in held for value in group
    )
    tail = (1 - confidence) / 2
    ends = Interval(
        math.sqrt(squares / chi2.ppf(1 - tail, freedom)),
        math.sqrt(squares / chi2.ppf(tail, freedom)),
    )
    return Spread(freedom, math.sqrt(squares / freedom), *ends)


def trial_size(
    difference: float,
    spread: float,
    *,
    power: float = 0.8,
    significance: float = 0.05,
    blocked: bool = False,
) -> TrialSize:
    """Panels of each of two settings, so that a true difference will probably show.

    Parameters
    ----------
    difference, spread : above 0, one unit
        The smallest difference of means worth knowing, and the standard deviation from one
        panel to the next of the same setting.
    power : 0–1, optional
        How surely the difference shall show.
    significance : 0–1, optional
        How often a difference may show that is not there; two-sided.
    blocked : optional
        Whether the settings are compared within blocks, such as days, of one panel each.

    Returns
    -------
    TrialSize
        ``per_setting`` is rounded up and at least 2.

    Raises
    ------
    ChartInputError
        If a number is out of range, or more than 100 000 panels would be needed.

    Notes
    -----
    Noncentral t of the two-sample t test with equal spreads (J. Cohen, Statistical Power
    Analysis, 2nd ed. 1988), both tails; in blocks that of the paired test, the differences
    within a block spreading √2 times as far as the panels.
    """
    if not (difference > 0 and spread > 0 and 0 < significance < 1 and significance < power < 1):
        raise ChartInputError(
            "A trial cannot be sized from these numbers",
            "give a difference and a spread above 0 and a power between the significance and 1",
        )
    # Two panels show a thousand spreads for certain; far beyond, the noncentral t overflows.
    effect = min(difference / spread, _PLAIN_EFFECT)

    def shortfall(number: float) -> float:
        return power - _power(effect, number, significance, blocked)

    if shortfall(MOST_PER_SETTING) > 0:
        raise ChartInputError(
            "No trial a shop can make would show so small a difference",
            "look for a larger effect or a measure that scatters less",
        )
    smallest = 1.05  # fewer than two panels have no spread of their own; only a bracket
    exact = smallest if shortfall(smallest) <= 0 else brentq(shortfall, smallest, MOST_PER_SETTING)
    return TrialSize(max(2, math.ceil(exact)), float(exact))


def smallest_shown(
    per_setting: int,
    spread: float,
    *,
    power: float = 0.8,
    significance: float = 0.05,
    blocked: bool = False,
) -> float:
    """The smallest difference of means that so many panels of each setting probably show.

    Parameters
    ----------
    per_setting : int from 2
    spread : above 0
        As for ``trial_size``, as is the rest.

    Returns
    -------
    float
        In the unit of the spread.

    Raises
    ------
    ChartInputError
        If a number is out of range.
    """
    if per_setting < 2 or not spread > 0:
        raise ChartInputError(
            "Nothing can be said of what such a trial would show",
            "give two panels of each setting or more and a spread above 0",
        )

    def shortfall(effect: float) -> float:
        return power - _power(effect, per_setting, significance, blocked)

    most = 1.0
    while shortfall(most) > 0:
        most *= 2
    return float(brentq(shortfall, 0.0, most)) * spread


def rate_spread(rate: float, difference: float, *, size: float, excess: float = 1.0) -> float:
    """Standard deviation of a rate from panel to panel, for sizing a trial of counts by it.

    Parameters
    ----------
    rate : from 0, difference : above 0, counts per unit of size
        The rate there is, and how much higher that of the other setting may be.
    size : above 0
        What is inspected of one panel, such as dm².
    excess : from 1, optional
        How many times as large the variance of counts is as chance alone would have it.

    Returns
    -------
    float
        Per unit of size, for ``trial_size`` and ``smallest_shown``: the quadratic mean of both
        settings. For a fall by the difference it is larger than need be.

    Raises
    ------
    ChartInputError
        If a number is out of range.

    Notes
    -----
    A count has its mean for variance, times the excess; that of a rate is this over the size.
    Check: G. van Belle, Statistical Rules of Thumb, 2nd ed. 2008, 2.7.
    """
    if not (rate >= 0 and difference > 0 and size > 0 and excess >= 1):
        raise ChartInputError(
            "A trial of counts cannot be sized from these numbers",
            "give a rate from 0, a difference and a size above 0, and an excess from 1",
        )
    return math.sqrt(excess * (rate + difference / 2) / size)


def smallest_rate_shown(
    per_setting: int,
    rate: float,
    *,
    size: float,
    excess: float = 1.0,
    power: float = 0.8,
    significance: float = 0.05,
    blocked: bool = False,
) -> float:
    """The smallest rise of a rate that so many panels of each setting probably show.

    Parameters
    ----------
    per_setting : int from 2
    rate, size, excess : as for ``rate_spread``, the rest as for ``trial_size``

    Returns
    -------
    float
        Counts per unit of size: the difference that is so many times its own spread.

    Raises
    ------
    ChartInputError
        If a number is out of range.
    """
    rate_spread(rate, 1.0, size=size, excess=excess)  # or a number is out of range
    effect = smallest_shown(
        per_setting, 1.0, power=power, significance=significance, blocked=blocked
    )
    # difference² = effect² · excess · (rate + difference / 2) / size
    half = effect**2 * excess / size / 4
    return half + math.sqrt(half**2 + 4 * half * rate)


def _power(effect: float, number: float, significance: float, blocked: bool) -> float:
    freedom = (number - 1) if blocked else 2 * (number - 1)
    border = student.ppf(1 - significance / 2, freedom)
    shift = effect * math.sqrt(number / 2)
    return float(nct.sf(border, freedom, shift) + nct.sf(border, freedom, -shift))


def run_order(settings: Sequence[str], repeats: int, *, random_state: int) -> tuple[str, ...]:
    """Shuffle the panels of a trial, one of every setting in each round.

    Parameters
    ----------
    settings : at least 2 different words
    repeats : int from 1
        Rounds, which is panels per setting.
    random_state : int
        Start of the shuffling; keep it with the trial, and the order can be shown again.

    Returns
    -------
    tuple of str
        ``repeats`` rounds one after the other, so that weather and ageing resin fall on all
        settings alike.

    Raises
    ------
    ChartInputError
        If there are fewer than 2 settings, one of them comes twice, or repeats is below 1.
    """
    if len(settings) < 2 or len(set(settings)) != len(settings) or repeats < 1:
        raise ChartInputError(
            "There is nothing to put in order",
            "name at least two different settings and one round or more",
        )
    generator = random.Random(random_state)
    order: list[str] = []
    for _ in range(repeats):
        order += generator.sample(list(settings), len(settings))
    return tuple(order)
