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
    target_of: int | None = None,
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
    target_of : int from 1, optional
        How many values the target is the mean of. The limits then allow for the target being
        off too, by sigma / √target_of. None, as the handbook has it, takes it for known.

    Returns
    -------
    ControlChart
        ``values`` are the averages. Limits target ± width · sigma · √(weight / (2 − weight)),
        at point i also times √(1 − (1 − weight)^2i) if ``from_first``. With ``target_of`` = n the
        reach is joined with width · sigma / √n in root-sum-square.

    Raises
    ------
    ChartInputError
        If sigma, weight or width is out of range, or a value is not finite.
    TooFewValuesError
        If there is no value at all.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4. A mean of 20 values is off by more
    than half as much as the average itself strays; taken for known it more than doubles the
    false alarms (tests/benchmarks/honest_trends.py).
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
    if target_of is not None and target_of < 1:
        raise ChartInputError(
            f"A target cannot be the mean of {target_of} values", "say how many it rests on"
        )
    taken = clean(values)
    if all(value is None for value in taken):
        raise TooFewValuesError(0, 1, "a moving average")

    average = target
    averages: list[Value] = []
    reaches = []
    seen = 0
    doubt = 0.0 if target_of is None else width * sigma / math.sqrt(target_of)
    strays = width * sigma * math.sqrt(weight / (2 - weight))
    long_run = math.hypot(strays, doubt)
    for value in taken:
        if value is not None:
            average = weight * value + (1 - weight) * average
            seen += 1
        averages.append(None if value is None else average)
        # max: before the first value the average cannot have strayed, but a limit needs a place
        grown = math.sqrt(1 - (1 - weight) ** (2 * max(seen, 1)))
        reaches.append(math.hypot(strays * grown, doubt))

    plotted = tuple(averages)
    if from_first:
        lower = tuple(target - reach for reach in reaches)
        upper = tuple(target + reach for reach in reaches)
        spread = tuple(reach / width for reach in reaches)
    else:
        lower, upper, spread = target - long_run, target + long_run, long_run / width
    return ControlChart(target, lower, upper, plotted, limit_signals(plotted, lower, upper), spread)
