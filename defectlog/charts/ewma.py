"""Exponentially weighted moving average: slow drifts that no single point shows."""

import math
from collections.abc import Iterable

from defectlog.charts.chart import (
    ChartInputError,
    ControlChart,
    TooFewValuesError,
    Value,
    clean,
    limit_signals,
)


def ewma(
    values: Iterable[Value],
    *,
    target: float,
    sigma: float,
    weight: float = 0.2,
    width: float = 3,
    from_first: bool = False,
) -> ControlChart:
    """Chart the weighted average of each value and all before it.

    Parameters
    ----------
    values : n numbers in any one unit, or None
        A missing value leaves the average where it was; nothing is plotted for it.
    target : same unit
        Centre line, and where the average starts before the first value.
    sigma : same unit
        Standard deviation of single values, above 0.
    weight : 0–1
        Share of the newest value (lambda). 1 is a chart of the values themselves.
    width : above 0
        Limits in units of the average's own sigma.
    from_first : bool, optional
        True draws the limits as narrow as they truly are at the start and lets them widen;
        False, as the handbook has it, the limits of the long run at every point.

    Returns
    -------
    ControlChart
        ``values`` are the averages. Limits target ± width · sigma · √(weight / (2 − weight)),
        at point i also times √(1 − (1 − weight)^2i) if ``from_first``.

    Raises
    ------
    ChartInputError
        If sigma, weight or width is out of range, or a value is not finite.
    TooFewValuesError
        If there is no value at all.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    if not (math.isfinite(target) and math.isfinite(sigma) and sigma > 0):
        raise ChartInputError(
            f"Target {target:g} and sigma {sigma:g} do not make a chart",
            "give a finite target and a standard deviation above 0",
        )
    if not (0 < weight <= 1 and math.isfinite(width) and width > 0):
        raise ChartInputError(
            f"Weight {weight:g} and width {width:g} do not make a chart",
            "give a weight above 0 and up to 1, and a width above 0",
        )
    taken = clean(values)
    if all(value is None for value in taken):
        raise TooFewValuesError(0, 1, "a moving average")

    average = target
    averages: list[Value] = []
    reaches = []
    seen = 0
    long_run = width * sigma * math.sqrt(weight / (2 - weight))
    for value in taken:
        if value is not None:
            average = weight * value + (1 - weight) * average
            seen += 1
        averages.append(None if value is None else average)
        # max: before the first value the average cannot have strayed, but a limit needs a place
        reaches.append(long_run * math.sqrt(1 - (1 - weight) ** (2 * max(seen, 1))))

    plotted = tuple(averages)
    if from_first:
        lower = tuple(target - reach for reach in reaches)
        upper = tuple(target + reach for reach in reaches)
        spread = tuple(reach / width for reach in reaches)
    else:
        lower, upper, spread = target - long_run, target + long_run, long_run / width
    return ControlChart(target, lower, upper, plotted, limit_signals(plotted, lower, upper), spread)
