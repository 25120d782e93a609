"""Means of values that cannot fall below 0: how sure each is, and how far two of them are apart."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import stdtrit

from defectlog.charts.intervals import Interval
from defectlog.charts.skewed import Turn, scale_of

Floats = NDArray[np.float64]
# Times the squared coefficient of variation. On logarithms half is Cox's; the rest, and what is
# added on roots, came of trying skewed values and counts, tests/benchmarks/honest_intervals.py.
_SPREAD_TOO_SMALL = {Turn.NONE: 0.0, Turn.LOG: 0.75, Turn.ROOT: 0.25}


@dataclass(frozen=True, slots=True)
class Level:
    """A mean with its ``variance``, and the degrees of freedom that one has, 0 without spread."""

    mean: float
    variance: float
    freedom: float


@dataclass(frozen=True, slots=True)
class Apart:
    """Interval of the difference of two means, and that of their ratio, None where it has none."""

    difference: Interval
    ratio: Interval | None


def turn_for(groups: Iterable[Sequence[float] | Floats]) -> Turn:
    """The scale that intervals of the means of these groups are worked out on.

    NONE where a value lies below 0: then there is no floor. Else LOG, or ROOT where some value is
    0 or below a twentieth of the middle one of its group.
    """
    made = [scale_of(group) for group in groups if len(group)]
    if Turn.NONE in made or not made:
        return Turn.NONE
    return Turn.ROOT if Turn.ROOT in made else Turn.LOG


def level_of(cells: Iterable[tuple[float, Floats]], turn: Turn) -> Level:
    """Weighted mean of the means of several groups of values.

    Parameters
    ----------
    cells : (weight, values), each of 2 values or more
        Weights that add up to 1.
    turn : Turn
        On LOG each variance is larger by three quarters of the squared coefficient of variation,
        on ROOT by a quarter: from few skewed values the spread itself comes out too small.

    Notes
    -----
    Degrees of freedom: F. E. Satterthwaite, Biometrics Bulletin 2, 1946. On logarithms the
    variance is that of D. R. Cox for the mean of log-normal values, s²/n + s⁴/(2(n − 1)) (X.-H.
    Zhou and S. Gao, Statistics in Medicine 16, 1997), with the coefficient of variation for s
    and three quarters for the half.
    """
    mean = variance = squares = 0.0
    for weight, values in cells:
        own = float(values.mean())
        share = float(values.var(ddof=1)) / values.size
        if own and (times := _SPREAD_TOO_SMALL[turn]):
            share *= 1 + times * share * values.size**2 / ((values.size - 1) * own**2)
        mean += weight * own
        variance += weight**2 * share
        squares += weight**4 * share**2 / (values.size - 1)
    freedom = variance**2 / squares if squares else 0.0
    return Level(float(mean), float(variance), float(freedom))


def mean_interval_of(
    values: Sequence[float], *, confidence: float = 0.95, turn: Turn | None = None
) -> Interval | None:
    """Interval of the mean of values that may be skewed; None from fewer than 2 of them.

    t on the scale of ``turn``, turned back; if not given, it is chosen by the values.
    """
    if len(values) < 2:
        return None
    taken = np.asarray(values, dtype=np.float64)
    scale = turn_for([taken]) if turn is None else turn
    if taken.mean() <= 0:
        scale = Turn.NONE
    return mean_ends(level_of([(1.0, taken)], scale), scale, confidence)


def mean_ends(level: Level, turn: Turn, confidence: float) -> Interval:
    """Interval of a mean by t, on the scale of ``turn`` and turned back."""
    if level.variance == 0:
        return Interval(level.mean, level.mean)
    reach = float(stdtrit(level.freedom, (1 + confidence) / 2))
    middle, deviation = _on_scale(level, turn)
    return Interval(
        turn.back(middle - reach * deviation),
        turn.back(middle + reach * deviation),
    )


def apart(a: Level, b: Level, turn: Turn, confidence: float) -> Apart:
    """Interval of the difference a − b and of the ratio a / b of two means.

    Parameters
    ----------
    a, b : Level
        Of values independent of each other.
    turn : Turn
        As both levels were made with.

    Returns
    -------
    Apart
        The ratio leaves out 1 just where the difference leaves out 0. It is None where the
        second mean may as well be 0.

    Notes
    -----
    Values as they are: B. L. Welch, Biometrika 34, 1947; ratio: E. C. Fieller, J. R. Stat. Soc.
    B 16, 1954, with the same freedom. On logarithms or roots: the farthest apart two means can be
    that t does not rule out (a profile: the pair that errs least for so large a difference or
    ratio), with Satterthwaite's freedom in that direction. The log ratio so found is Welch's t on
    the "response ratio" of L. V. Hedges, J. Gurevitch and P. S. Curtis, Ecology 80, 1999.
    """
    if a.variance + b.variance == 0:
        difference = a.mean - b.mean
        ratio = a.mean / b.mean if b.mean else math.inf
        return Apart(
            Interval(difference, difference), Interval(ratio, ratio) if b.mean > 0 else None
        )
    if turn is Turn.NONE or min(a.mean, b.mean) <= 0:
        return _as_they_are(a, b, confidence)
    pair = _Pair(a, b, turn, confidence)
    low, high = (one - other for one, other in (pair.end(up, False) for up in (False, True)))
    if pair.may_be_nothing:
        return Apart(Interval(low, high), None)
    ends = [pair.end(up, True) for up in (False, True)]
    return Apart(Interval(low, high), Interval(*(one / other for one, other in ends)))


class _Pair:
    """Two means on a turned scale, where each errs by t times its standard error at most."""

    def __init__(self, a: Level, b: Level, turn: Turn, confidence: float) -> None:
        self._turn, self._tail = turn, (1 + confidence) / 2
        self._middles, self._errors = zip(
            *(_on_scale(level, turn) for level in (a, b)), strict=True
        )
        # A mean without spread has no say in how many degrees of freedom there are.
        self._losses = [1 / level.freedom if level.variance else 0.0 for level in (a, b)]

    @property
    def may_be_nothing(self) -> bool:
        """Whether t allows the second mean to be 0."""
        return self._turn is Turn.ROOT and self._at(-math.pi / 2)[1] <= 0

    def _at(self, angle: float) -> tuple[float, float]:
        """Where both means are if they err to the full, mixed by the angle; on the scale."""
        along = math.cos(angle), math.sin(angle)
        lost = sum(loss * share**4 for loss, share in zip(self._losses, along, strict=True))
        reach = float(stdtrit(1 / lost, self._tail)) if lost else 0.0
        first, second = (
            middle + reach * error * share
            for middle, error, share in zip(self._middles, self._errors, along, strict=True)
        )
        if self._turn is Turn.ROOT:
            return max(first, 0.0), max(second, 0.0)
        return first, second

    def end(self, up: bool, as_ratio: bool) -> tuple[float, float]:
        """Both means, turned back, where difference or ratio has its upper or lower end.

        There, moving the one costs as much likelihood as moving the other.
        """

        def pull(angle: float) -> float:
            first, second = self._at(angle)
            if self._turn is Turn.LOG:
                # Of a difference the larger mean moves more; of a ratio both alike.
                slopes = (1.0, 1.0) if as_ratio else (1.0, math.exp(second - first))
            else:
                slopes = (second, first) if as_ratio else (first, second)
            own, other = (error * slope for error, slope in zip(self._errors, slopes, strict=True))
            return own * abs(math.sin(angle)) - other * abs(math.cos(angle))

        # From where only the second mean errs to where only the first does.
        second_errs, first_errs = (-math.pi / 2, 0.0) if up else (math.pi / 2, math.pi)
        if not self._errors[1] or pull(first_errs) >= 0:
            angle = first_errs
        elif not self._errors[0] or pull(second_errs) <= 0:
            angle = second_errs
        else:
            angle = float(brentq(pull, second_errs, first_errs, xtol=1e-10))
        first, second = (self._turn.back(value) for value in self._at(angle))
        return first, second


def _on_scale(level: Level, turn: Turn) -> tuple[float, float]:
    """The mean and its standard error on the turned scale, by the delta method."""
    deviation = math.sqrt(level.variance)
    if turn is Turn.LOG:
        return math.log(level.mean), deviation / level.mean
    if turn is Turn.ROOT:
        root = math.sqrt(level.mean)
        return root, deviation / (2 * root)
    return level.mean, deviation


def _as_they_are(a: Level, b: Level, confidence: float) -> Apart:
    total = a.variance + b.variance
    freedom = total**2 / sum(
        level.variance**2 / level.freedom for level in (a, b) if level.variance
    )
    reach = float(stdtrit(freedom, (1 + confidence) / 2))
    width = reach * math.sqrt(total)
    difference = a.mean - b.mean
    return Apart(Interval(difference - width, difference + width), _fieller(a, b, reach))


def _fieller(a: Level, b: Level, reach: float) -> Interval | None:
    """All r with (a − r b)² <= t² (var a + r² var b); None where they are no closed stretch."""
    own, other = reach**2 * a.variance, reach**2 * b.variance
    square = b.mean**2 - other
    # A ratio to something that may as well be nothing, or less, says nothing.
    if square <= 0 or b.mean <= 0:
        return None
    product = a.mean * b.mean
    root = math.sqrt(max(0.0, product**2 - square * (a.mean**2 - own)))
    return Interval((product - root) / square, (product + root) / square)
