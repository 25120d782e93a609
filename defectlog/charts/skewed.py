"""Limits for values that crowd at zero: worked out on roots or logarithms and turned back."""

import enum
import math
import statistics
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from defectlog.charts.chart import ChartInputError, ControlChart, Value, clean, limit_signals
from defectlog.charts.ewma import ewma
from defectlog.charts.individuals import individuals, moving_range_chart
from defectlog.charts.rules import run_signals

# A value this small beside the middle one would pull logarithms far apart by itself.
_TOO_SMALL_FOR_LOGS = 1 / 20
# A lower limit nearer to 0 than this share of the centre: the values crowd there. From trying
# skewed and even values against each other, tests/benchmarks/honest_trends.py: at 0 skewed voids
# gave half as many false alarms again, at a half even values did.
_NEAR_THE_FLOOR = 1 / 3


class Turn(enum.Enum):
    """What limits are worked out on; the value says it in words."""

    NONE = "the values as they are"
    ROOT = "the square roots"
    LOG = "the logarithms"

    def there(self, value: float) -> float:
        """The value on the scale that limits are worked out on."""
        if self is Turn.ROOT:
            return math.sqrt(value)
        return math.log(value) if self is Turn.LOG else value

    def back(self, value: float) -> float:
        """From that scale to the unit of the values; a root below 0 stands for 0."""
        if self is Turn.ROOT:
            return max(0.0, value) ** 2
        return math.exp(value) if self is Turn.LOG else value


def choose_turn(stretches: Iterable[Sequence[Value]], also: Sequence[Value] = ()) -> Turn:
    """Whether limits of values that cannot fall below 0 need a turned scale, and which.

    Parameters
    ----------
    stretches : runs of values, in one unit, that have limits of their own
        All of them get the same scale.
    also : values to be charted that set no limits, optional
        They have to find a place on the scale too.

    Returns
    -------
    Turn
        NONE while every lower limit of the values as they are keeps a third of the centre away
        from 0: then the floor is far enough off. Else LOG, or ROOT where some value is 0 or
        below a twentieth of the middle one.

    Raises
    ------
    ChartInputError
        If a value is below 0 or not finite.
    """
    taken = [clean(values) for values in stretches]
    known = [value for values in (*taken, clean(also)) for value in values if value is not None]
    if any(value < 0 for value in known):
        raise ChartInputError("A value is below 0", "chart it as it is, without a floor")
    if not any(_comes_near_zero(values) for values in taken):
        return Turn.NONE
    return scale_of(known)


def scale_of(values: Sequence[float]) -> Turn:
    """The scale for values with a floor at 0, one at least; NONE if one of them lies below it."""
    smallest = min(values)
    if smallest < 0:
        return Turn.NONE
    return Turn.LOG if smallest > _TOO_SMALL_FOR_LOGS * statistics.median(values) else Turn.ROOT


def individuals_turned(
    values: Iterable[Value],
    turn: Turn,
    *,
    baseline: Collection[int] | None = None,
    run_rules: bool = False,
) -> ControlChart:
    """Chart single values with limits worked out on a turned scale.

    Parameters
    ----------
    values : n numbers from 0, or None; above 0 for LOG
    turn : Turn
    baseline : indices from 0, optional
        As for ``individuals``.
    run_rules : bool, optional
        Also apply the run rules, on the turned scale.

    Returns
    -------
    ControlChart
        In the unit of the values, but for ``sigma``, which is that of the turned scale.
        Centre is the mean of the turned values, turned back: below the plain mean.

    Raises
    ------
    TooFewValuesError, ChartInputError
        As for ``individuals``.

    Notes
    -----
    A point is outside in one scale if and only if it is in the other. For skewed values near
    a floor limits from the values as they are cry wolf above and never below.
    """
    taken = clean(values)
    turned = _turned(taken, turn)
    chart = individuals(turned, baseline=baseline)
    lower, upper = chart.limits_at(0)
    lower, upper = turn.back(lower), turn.back(upper)
    signals = limit_signals(taken, lower, upper)
    if run_rules:
        signals += run_signals(turned, chart.centre, chart.sigma)
    return replace(
        chart,
        centre=turn.back(chart.centre),
        lower=lower,
        upper=upper,
        values=taken,
        signals=signals,
    )


def steps_turned(
    values: Iterable[Value], turn: Turn, *, baseline: Collection[int] | None = None
) -> ControlChart:
    """Chart the steps between neighbours on the scale that the limits are worked out on.

    Returns
    -------
    ControlChart
        As ``moving_range_chart`` of the turned values, and in their unit: for LOG ``exp`` of a
        step is the ratio of two neighbours.

    Raises
    ------
    TooFewValuesError, ChartInputError
        As for ``moving_range_chart``.
    """
    return moving_range_chart(_turned(clean(values), turn), baseline=baseline)


def ewma_turned(
    values: Iterable[Value], turn: Turn, of: ControlChart, *, target_of: int | None = None
) -> ControlChart | None:
    """The moving average beside a chart of ``individuals_turned``: small, lasting drifts.

    ``target_of`` is how many values the centre of ``of`` rests on; see ``ewma``.

    Returns
    -------
    ControlChart or None
        Centre and spread are those of ``of``, weight 0.2, limits of 3 sigma from the first
        point on, everything turned back to the unit of the values. None when ``of`` has no
        spread to judge by.

    Raises
    ------
    TooFewValuesError, ChartInputError
        As for ``ewma``.
    """
    if isinstance(of.sigma, tuple) or of.sigma <= 0:
        return None
    taken = clean(values)
    # A centre turned to and fro may differ in the last digit; no matter here.
    chart = ewma(
        _turned(taken, turn),
        target=turn.there(of.centre),
        sigma=of.sigma,
        from_first=True,
        target_of=target_of,
    )
    averages = tuple(None if value is None else turn.back(value) for value in chart.values)
    bounds = [chart.limits_at(index) for index in range(len(taken))]
    lower = tuple(turn.back(low) for low, _ in bounds)
    upper = tuple(turn.back(high) for _, high in bounds)
    return replace(
        chart,
        centre=of.centre,
        lower=lower,
        upper=upper,
        values=averages,
        signals=limit_signals(averages, lower, upper),
    )


def _turned(values: Sequence[Value], turn: Turn) -> tuple[Value, ...]:
    known = [value for value in values if value is not None]
    lowest = min(known, default=1.0)
    if turn is not Turn.NONE and (lowest < 0 or (lowest == 0 and turn is Turn.LOG)):
        raise ChartInputError(f"{lowest:g} has no place on this scale", "use another scale")
    return tuple(None if value is None else turn.there(value) for value in values)


def _comes_near_zero(values: Sequence[Value]) -> bool:
    steps = [
        abs(after - before)
        for before, after in zip(values, values[1:], strict=False)
        if before is not None and after is not None
    ]
    if not steps:
        return False
    chart = individuals(values)
    return chart.limits_at(0)[0] < _NEAR_THE_FLOOR * chart.centre
