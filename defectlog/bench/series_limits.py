"""The charts of a series: limits of each stretch, its moving average, its steps."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from defectlog.bench.results import ResultValues
from defectlog.bench.series_words import BASELINE, Charted, drift_sentence, steps_sentence
from defectlog.charts import (
    ControlChart,
    Phase,
    TooFewValuesError,
    Turn,
    choose_turn,
    ewma_turned,
    individuals_turned,
    probable_rates,
    run_signals,
    steps_turned,
)
from defectlog.charts.change import LEAST_FOR_LIMITS
from defectlog.units import figure

Spans = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Drift:
    """The moving average of the same values: one stretch of limits for each of the series."""

    sentence: str
    phases: tuple[Phase, ...]
    values: tuple[float | None, ...]
    outside: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """The moving ranges of the same values, on the scale that limits are worked out on.

    ``write`` puts one into words: a difference, or on logarithms a ratio.
    """

    sentence: str
    phases: tuple[Phase, ...]
    values: tuple[float | None, ...]
    outside: tuple[int, ...]
    write: Callable[[float], str]


def baseline_of(
    values: Sequence[float | None], spans: Spans, upset: Collection[int]
) -> tuple[int, ...]:
    """The places of the values that set limits: the first 20 of each stretch that may.

    Values at the places ``upset`` have a known cause of their own and set none, unless hardly
    any would be left. An empty place in the midst counts for nothing.
    """
    chosen: list[int] = []
    for start, stop in spans:
        places = [i for i in range(start, stop) if values[i] is not None]
        sound = [i for i in places if i not in upset]
        chosen += (sound if len(sound) >= LEAST_FOR_LIMITS else places)[:BASELINE]
    return tuple(chosen)


def turn_of(
    made: ResultValues, values: Sequence[float | None], spans: Spans, baseline: Collection[int]
) -> Turn:
    """The scale that all stretches of a series get their limits on."""
    if made.result.is_count or not made.result.has_floor:
        return Turn.NONE
    setting = [value if i in baseline else None for i, value in enumerate(values)]
    return choose_turn([setting[start:stop] for start, stop in spans], values)


def phases_of(
    made: ResultValues,
    numbers: Sequence[int],
    spans: Spans,
    turn: Turn,
    gap: int | None,
    baseline: Collection[int],
    *,
    run_rules: bool,
) -> tuple[Phase, ...]:
    """Limits of each stretch, resting on its part of the baseline; no run crosses the gap."""
    ones = [made.values.get(number) for number in numbers]

    def chart(start: int, stop: int) -> ControlChart | None:
        taken = ones[start:stop]
        if sum(one is not None for one in taken) < LEAST_FOR_LIMITS:
            return None
        setting = [index - start for index in baseline if start <= index < stop]
        place = gap - start if gap is not None and start < gap < stop else None
        if place is not None:
            taken = [*taken[:place], None, *taken[place:]]
            setting = [index + (index >= place) for index in setting]
        values = [one.value if one else None for one in taken]
        try:
            if not made.result.is_count:
                of = individuals_turned(values, turn, baseline=setting, run_rules=run_rules)
            else:
                counts = [one.count if one else None for one in taken]
                sizes = [one.size if one else 1.0 for one in taken]
                of = probable_rates(counts, sizes, baseline=setting)
                if run_rules:
                    runs = run_signals(of.values, of.centre, of.sigma)
                    of = replace(of, signals=of.signals + runs)
        except TooFewValuesError:  # enough values, but no two of them neighbours
            return None
        return of if place is None else _without(of, place)

    return tuple(Phase(start, stop, chart(start, stop)) for start, stop in spans)


def drift_of(charted: Charted, leaks: Collection[int] = ()) -> Drift | None:
    """The moving average; none of counts, whose spread differs from build to build.

    ``leaks`` are numbers of builds whose bag leaked. It leaves them out: it would remember one for
    five builds and more, and a leak is no drift.
    """
    if charted.made.result.is_count:
        return None
    pairs = list(zip(charted.numbers, charted.values, strict=True))
    leaky = [number for number, value in pairs if value is not None and number in leaks]
    sound = tuple(None if number in leaks else value for number, value in pairs)
    if all(value is None for value in sound):
        return None
    charted = replace(charted, values=sound)
    averages: list[float | None] = []
    drawn = []
    for phase in charted.phases:
        values = charted.values[phase.start : phase.stop]
        chart = None
        if phase.chart:
            target_of = sum(phase.start <= i < phase.stop for i in charted.baseline)
            chart = ewma_turned(values, charted.turn, phase.chart, target_of=target_of)
        averages += chart.values if chart else [None] * len(values)
        drawn.append(Phase(phase.start, phase.stop, chart))
    if all(phase.chart is None for phase in drawn):
        return None
    outside = _outside(drawn)
    return Drift(drift_sentence(charted, outside, leaky), tuple(drawn), tuple(averages), outside)


def steps_of(charted: Charted) -> Steps | None:
    """The steps between neighbours; none of counts, nor where all values are the same."""
    if charted.made.result.is_count:
        return None
    steps: list[float | None] = []
    drawn = []
    for phase in charted.phases:
        values = charted.values[phase.start : phase.stop]
        chart = None
        if phase.chart and phase.chart.sigma != 0:
            setting = [i - phase.start for i in charted.baseline if phase.start <= i < phase.stop]
            chart = steps_turned(values, charted.turn, baseline=setting)
            if charted.gap is not None and phase.start < charted.gap < phase.stop:
                chart = _blank(chart, charted.gap - phase.start)
        steps += chart.values if chart else [None] * len(values)
        drawn.append(Phase(phase.start, phase.stop, chart))
    if all(phase.chart is None for phase in drawn):
        return None
    outside = _outside(drawn)
    sentence = steps_sentence(charted, outside)
    return Steps(sentence, tuple(drawn), tuple(steps), outside, _step_words(charted))


def _step_words(charted: Charted) -> Callable[[float], str]:
    # Steps are drawn on the scale of the limits, where a ratio is a difference of logarithms.
    result = charted.made.result
    if charted.turn is Turn.NONE:
        return lambda step: result.write_range(0, step, change=True).split(" to ")[1]
    return lambda step: figure(step, 2)


def _outside(phases: Sequence[Phase]) -> tuple[int, ...]:
    return tuple(
        phase.start + signal.index
        for phase in phases
        if phase.chart
        for signal in phase.chart.signals
        if signal.rule == "limit"
    )


def _without(chart: ControlChart, place: int) -> ControlChart:
    """The same chart without the empty place that kept two parts of it apart."""

    def cut(values: float | tuple[float, ...]) -> float | tuple[float, ...]:
        return values[:place] + values[place + 1 :] if isinstance(values, tuple) else values

    return replace(
        chart,
        lower=cut(chart.lower),
        upper=cut(chart.upper),
        sigma=cut(chart.sigma),
        values=chart.values[:place] + chart.values[place + 1 :],
        signals=tuple(
            replace(signal, index=signal.index - (signal.index > place)) for signal in chart.signals
        ),
    )


def _blank(chart: ControlChart, place: int) -> ControlChart:
    """The same chart without the step across builds that are not drawn."""
    return replace(
        chart,
        values=(*chart.values[:place], None, *chart.values[place + 1 :]),
        signals=tuple(signal for signal in chart.signals if signal.index != place),
    )
