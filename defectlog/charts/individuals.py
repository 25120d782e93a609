"""Individuals and moving range: one value a build, limits from the step between neighbours."""

import math
from collections.abc import Collection, Iterable, Sequence

from defectlog.charts.chart import (
    ControlChart,
    TooFewValuesError,
    Value,
    clean,
    clean_baseline,
    limit_signals,
)
from defectlog.charts.rules import run_signals
from defectlog.units import figure

# Mean range of two normal values in units of sigma, and the upper limit of a moving range in
# units of its mean, both rounded as printed: NIST/SEMATECH e-Handbook, 6.3.2.1 and 6.3.2.2.
D2_OF_TWO = 1.128
D4_OF_TWO = 3.267


def individuals(
    values: Iterable[Value],
    *,
    lowest: float | None = None,
    baseline: Collection[int] | None = None,
    run_rules: bool = False,
) -> ControlChart:
    """Chart single values in the order they were made.

    Parameters
    ----------
    values : n numbers in any one unit, or None
        None is a build without a value: it is not plotted, and no moving range reaches
        across it.
    lowest : same unit, optional
        The smallest value there can be, 0 for a fraction or a length. A lower limit that
        falls below is drawn there instead, and ``notes`` say so.
    baseline : indices from 0, optional
        The values that set centre and limits; all of them if not given. The others are
        plotted and judged against those limits.
    run_rules : bool, optional
        Also apply the run rules of ``defectlog.charts.rules``.

    Returns
    -------
    ControlChart
        Centre is the mean, limits are mean ± 3 · mean moving range / 1.128.

    Raises
    ------
    TooFewValuesError
        If no two neighbouring values give a moving range.
    ChartInputError
        If a value is not finite or the baseline names one that is not there.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, with d2 rounded to 1.128 as
    there. The standard deviation of all values is not used: it would swallow the very
    shifts the chart is to show. Values close to a floor are skewed, so their upper limit is
    crossed more often by chance than the one point in about 370 of a normal distribution.
    """
    taken = clean(values)
    chosen = clean_baseline(baseline, taken)
    steps = _steps(taken, chosen)
    if not steps:
        raise TooFewValuesError(len(chosen), 2, "limits from neighbouring values")

    centre = math.fsum(taken[index] for index in chosen) / len(chosen)
    sigma = math.fsum(steps) / len(steps) / D2_OF_TWO
    lower, upper = centre - 3 * sigma, centre + 3 * sigma
    notes = ()
    if lowest is not None and lower < lowest:
        lower = lowest
        notes = (
            f"The lower limit is drawn at {figure(lowest)}, the smallest value there can be; "
            "values near it are skewed, so a single point just above the upper limit is "
            "weaker evidence than the rule suggests.",
        )
    signals = limit_signals(taken, lower, upper)
    if run_rules:
        signals += run_signals(taken, centre, sigma)
    return ControlChart(centre, lower, upper, taken, signals, sigma, notes)


def moving_ranges(values: Iterable[Value]) -> tuple[Value, ...]:
    """Steps between neighbouring values, same length and unit; None where there is none.

    The first value has no neighbour before it, so its range is None and not 0.
    """
    taken = clean(values)
    return tuple(
        None if index == 0 else _step(taken[index - 1], taken[index]) for index in range(len(taken))
    )


def moving_range_chart(
    values: Iterable[Value], *, baseline: Collection[int] | None = None
) -> ControlChart:
    """Chart the steps themselves: centre the mean range, upper limit 3.267 times it, lower 0.

    Parameters
    ----------
    values : n numbers in any one unit, or None
    baseline : indices from 0, optional
        As for ``individuals``: the ranges between these values set centre and limit.

    Raises
    ------
    TooFewValuesError
        If no two neighbouring values give a moving range.

    Notes
    -----
    D3 = 0 and D4 = 3.267 for ranges of two: NIST/SEMATECH e-Handbook, 6.3.2.1.
    """
    taken = clean(values)
    ranges = moving_ranges(taken)
    known = _steps(taken, clean_baseline(baseline, taken))
    if not known:
        raise TooFewValuesError(len(ranges), 2, "limits from neighbouring values")
    centre = math.fsum(known) / len(known)
    upper = D4_OF_TWO * centre
    sigma = (upper - centre) / 3
    return ControlChart(centre, 0.0, upper, ranges, limit_signals(ranges, 0.0, upper), sigma)


def _steps(values: Sequence[Value], chosen: Sequence[int]) -> list[float]:
    within = set(chosen)
    return [
        abs(values[index] - values[index - 1])
        for index in chosen
        if index - 1 in within  # chosen holds no None
    ]


def _step(before: Value, after: Value) -> Value:
    return None if before is None or after is None else abs(after - before)
