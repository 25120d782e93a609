"""Run rules: patterns that point to a shift although no single point is outside."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from defectlog.charts.chart import Signal, Value, at, clean


@dataclass(frozen=True, slots=True)
class RunRule:
    """At least ``hits`` of ``span`` points in a row beyond ``sigmas`` on one side."""

    key: str
    hits: int
    span: int
    sigmas: float
    words: str


# The Western Electric rules beside the limit itself, as NIST/SEMATECH e-Handbook 6.3.2 gives
# them. All four together raise a false alarm about every 92 points when nothing has changed
# (Champ and Woodall, Technometrics 29, 1987), so a chart applies them only when asked.
WESTERN_ELECTRIC = (
    RunRule("two-of-three", 2, 3, 2.0, "two of three points beyond 2 sigma"),
    RunRule("four-of-five", 4, 5, 1.0, "four of five points beyond 1 sigma"),
    RunRule("eight-in-a-row", 8, 8, 0.0, "eight points in a row"),
)


def run_signals(
    values: Iterable[Value],
    centre: float,
    sigma: float | tuple[float, ...],
    rules: Sequence[RunRule] = WESTERN_ELECTRIC,
) -> tuple[Signal, ...]:
    """Find the points at which a run rule is fulfilled.

    Parameters
    ----------
    values : n numbers, or None
        A missing value ends a run: nobody knows on which side it would have been.
    centre, sigma : same unit
        Centre line, and one sigma of the plotted values (a third of the way to a limit),
        one number or one a point.

    Returns
    -------
    tuple of Signal
        In order of the points. The index is that of the point that completes the pattern,
        and that point is itself beyond the line. A run that goes on signals again.

    Notes
    -----
    "Beyond" is strict, so a point on the centre line belongs to neither side.
    """
    taken = clean(values)
    signals = []
    for index in range(len(taken)):
        for rule in rules:
            for side, word in ((1, "above"), (-1, "below")):
                if _completes(rule, taken, index, centre, sigma, side):
                    words = f"{rule.words}, {word} the centre line"
                    signals.append(Signal(index, rule.key, words))
    return tuple(signals)


def _completes(
    rule: RunRule,
    values: Sequence[Value],
    index: int,
    centre: float,
    sigma: float | tuple[float, ...],
    side: int,
) -> bool:
    hits = 0
    for place in range(index, max(-1, index - rule.span), -1):
        value = values[place]
        if value is None:
            break
        beyond = side * (value - centre) > rule.sigmas * at(sigma, place)
        if place == index and not beyond:
            return False
        hits += beyond
    return hits >= rule.hits
