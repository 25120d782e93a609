"""What every control chart hands back, and how a point outside its limits is told."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from numbers import Real

from defectlog.errors import DefectlogError
from defectlog.units import figure, plural

Value = float | None

# A value that differs from a limit by no more than rounding lies on it, and on it is inside.
_ROUNDING = 1e-9


class ChartInputError(DefectlogError):
    """The numbers given cannot stand on this chart."""


class TooFewValuesError(DefectlogError):
    """There is not yet enough to compute limits, an interval or a comparison from."""

    def __init__(self, have: int, need: int, purpose: str) -> None:
        self.have = have
        self.need = need
        super().__init__(
            f"{plural(have, 'value')} cannot carry {purpose}",
            f"come back with at least {plural(need, 'value')}",
        )


@dataclass(frozen=True, slots=True)
class Signal:
    """One point that the chart says to look at.

    ``index`` counts from 0, ``rule`` is ``"limit"`` or the key of a run rule, ``words`` say it.
    """

    index: int
    rule: str
    words: str


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Values in the order they were made, with centre line, limits and signals.

    ``lower``, ``upper`` and ``sigma`` are one number where they hold for every point, and a
    tuple with one number a point where they vary. ``values`` are what is plotted; None is a
    build without a value. ``notes`` say in words how the limits may mislead.
    """

    centre: float
    lower: float | tuple[float, ...]
    upper: float | tuple[float, ...]
    values: tuple[Value, ...]
    signals: tuple[Signal, ...]
    sigma: float | tuple[float, ...]
    notes: tuple[str, ...] = ()

    def limits_at(self, index: int) -> tuple[float, float]:
        """Lower and upper limit for the point of this index."""
        return at(self.lower, index), at(self.upper, index)

    def is_outside(self, index: int) -> bool:
        """Whether this point lies strictly outside its limits."""
        return any(signal.index == index and signal.rule == "limit" for signal in self.signals)


def at(limit: float | tuple[float, ...], index: int) -> float:
    """One of the limits of a chart, whether it varies from point to point or not."""
    return limit[index] if isinstance(limit, tuple) else limit


def limit_signals(
    values: Sequence[Value],
    lower: float | tuple[float, ...],
    upper: float | tuple[float, ...],
) -> tuple[Signal, ...]:
    """Name the points strictly outside their limits; a point on a limit is inside."""
    signals = []
    for index, value in enumerate(values):
        if value is None:
            continue
        low, high = at(lower, index), at(upper, index)
        slack = _ROUNDING * max(abs(low), abs(high), abs(value))
        if value > high + slack:
            words = f"{figure(value, 4)} is above the upper limit {figure(high, 4)}"
        elif value < low - slack:
            words = f"{figure(value, 4)} is below the lower limit {figure(low, 4)}"
        else:
            continue
        signals.append(Signal(index, "limit", words))
    return tuple(signals)


def clean(values: Iterable[Value]) -> tuple[Value, ...]:
    """Take the values as floats; None stays None.

    Raises
    ------
    ChartInputError
        If a value is not finite. A missing value is None, so that no slip turns into a gap.
    """
    taken = tuple(None if value is None else float(value) for value in values)
    for index, value in enumerate(taken):
        if value is not None and not math.isfinite(value):
            raise ChartInputError(
                f"Value {index + 1} is {value}", "give a number, or None where there is none"
            )
    return taken


def clean_counts(counts: Iterable[float | None]) -> tuple[Value, ...]:
    """Take counts: whole numbers from 0, or None."""
    taken = clean(counts)
    for index, count in enumerate(taken):
        if count is not None and (count < 0 or count != int(count)):
            raise ChartInputError(
                f"Count {index + 1} is {figure(count)}", "count in whole numbers from 0"
            )
    return taken


def clean_sizes(sizes: float | Iterable[float], number: int) -> tuple[float, ...]:
    """Take the sizes that go with so many counts; one number holds for all of them."""
    if isinstance(sizes, Real):
        taken = (float(sizes),) * number
    else:
        taken = tuple(float(size) for size in sizes)
    if len(taken) != number:
        raise ChartInputError(
            f"There are {plural(number, 'count')} and {plural(len(taken), 'size')}",
            "give one size for each count",
        )
    for index, size in enumerate(taken):
        if not (math.isfinite(size) and size > 0):
            raise ChartInputError(
                f"Size {index + 1} is {size:g}", "give the size inspected, above 0"
            )
    return taken


def clean_baseline(baseline: Collection[int] | None, values: Sequence[Value]) -> tuple[int, ...]:
    """Indices of the values that set the limits: those named, or all there are."""
    if baseline is None:
        return tuple(index for index, value in enumerate(values) if value is not None)
    for index in baseline:
        if not 0 <= index < len(values):
            raise ChartInputError(
                f"The baseline names value {index + 1} of {len(values)}",
                "name indices from 0 that exist",
            )
    return tuple(index for index in sorted(set(baseline)) if values[index] is not None)


def one_or_each(limits: Sequence[float]) -> float | tuple[float, ...]:
    """One number where all points share it, otherwise one number a point."""
    limits = tuple(limits)
    return limits[0] if len(set(limits)) == 1 else limits
