"""What a result goes with, in sentences: effect, interval, how sure, and what else it may be."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from defectlog.bench.fact_columns import (
    WithTime,
    column_label,
    column_unit,
    column_words,
)
from defectlog.bench.results import Result, ResultValues
from defectlog.charts import Association, Column, Unjudged
from defectlog.charts.association import RATE
from defectlog.units import figure, percent, plural, with_unit

_MOST_NAMED = 3
_HALF, _RARE = 0.55, 0.01


@dataclass(frozen=True, slots=True)
class Told:
    """One fact in words: the ``effect`` with its unit, the ``interval``, and ``q``.

    ``by_chance`` is what q means: of a list down to this fact, so many are there by chance.
    ``doubt`` says where the interval leaves room for no effect; else it is empty.
    """

    effect: str
    interval: str
    q: str
    by_chance: str
    doubt: str = ""


def change_ends(result: Result, low: float, high: float, *, turned: bool = False) -> str:
    """Both ends of a difference; ``turned`` where it is told as so much lower."""
    if turned:
        low, high = -high, -low
    return result.write_range(low, high, change=True)


def found_sentence(
    made: ResultValues,
    builds: str,
    values: Sequence[float],
    found: Sequence[Sequence[str]],
    judged: int,
) -> str:
    """One sentence: which facts the result goes with, or why there is nothing to say."""
    result = made.result
    title = result.title.lower()
    if not values:
        return f"No build has {result.rests_on} yet ({builds})."
    if len(values) == 1:
        return f"Only one build has {result.rests_on} ({builds}): nothing can be compared."
    number = plural(len(values), "build")
    if min(values) == max(values):
        return (
            f"{made.title}: {result.write(values[0])} on all {number} ({builds}), so nothing "
            "written down can go with it."
        )
    if not judged:
        return (
            f"{number} with {result.rests_on} ({builds}), and nothing written down of them "
            "differs on enough of them to be judged."
        )
    verb = "go" if result.is_several else "goes"
    if not found:
        return (
            f"{made.title} {verb} with none of {plural(judged, 'fact')} on {number} ({builds}), "
            f"after allowing for having looked at {judged}."
        )
    number_found = sum(map(len, found))
    names = [_lower(bundle[0]) for bundle in found[:_MOST_NAMED]]
    more = len(found) - len(names)
    words = (
        f"On {number} ({builds}) {title} {verb} with {number_found} of {plural(judged, 'fact')} "
        "judged"
    )
    if len(found) < number_found:
        apart = plural(len(found), "group") + " that can be told apart"
        words += f", in {apart}" if len(found) > 1 else ", none of which can be told apart"
    return f"{words}: {'; '.join([*names, f'{more} more'] if more else names)}."


def effect_words(result: Result, one: Association, column: Column) -> Told:
    """How far the result moves with a fact, and within which ends."""
    slope = one.slope
    unit = column_unit(one.name).removesuffix(" ago")
    if one.cut is not None:
        step, what = 1.0, f"above {with_unit(one.cut, unit, 4)} than up to it"
    elif one.between is None:
        step = _step([float(v) for v in column.values if v is not None])
        what = f"for every {with_unit(step, unit)} more"
    else:
        step = 1.0
        first, second = (column_words(one.name, value) for value in one.between)
        what = f"with “{second}” than with “{first}”"
        if isinstance(one.between[0], bool):
            what = f"where it was “{second}” than where it was “{first}”"
    change, low, high = step * slope.value, step * slope.low, step * slope.high
    share = percent(slope.confidence, 3)
    if change == 0:
        effect = f"no shift of the middle {what}"
    else:
        way = "higher" if change > 0 else "lower"
        effect = f"{result.write_change(abs(change))} {way} {what}"
    turned = change < 0 and high <= 0
    interval = f"{share} interval {change_ends(result, low, high, turned=turned)}"
    doubt = ""
    if change and low <= 0 <= high:
        doubt = "The interval allows for no effect; only the test, by ranks, speaks for one."
    return Told(effect, interval, percent(one.q_value), by_chance(one.q_value), doubt)


def by_chance(q: float) -> str:
    """A false discovery rate as people speak: ``about 1 in 20``."""
    if q > _HALF:
        return "more than half"
    return f"about 1 in {1 / q:.0f}" if q >= _RARE else "fewer than 1 in 100"


def table_ends(one: Association) -> tuple[str, str]:
    """From what to what an effect leads, for the file of numbers."""
    if one.cut is not None:
        return f"up to {one.cut:g}", f"above {one.cut:g}"
    if one.between is None:
        return "", "one unit more"
    return str(one.between[0]), str(one.between[1])


def along_words(names: Sequence[str]) -> str:
    """Which other groups of facts went largely the same way."""
    return f"It went largely along with {_labels(names)}: either may be at work." if names else ""


def time_words(column: Column, between: tuple[Any, Any] | None, order: WithTime | None) -> str:
    """That a fact changed with time, so that all else that did may be at work."""
    if between is None or order is None:
        return "It rose or fell with time: whatever else did may be at work."
    first, second = (column_words(column.name, value) for value in between)
    later, earlier = (second, first) if order.later_is_second else (first, second)
    share = "All" if order.is_all else "Nearly all"
    return (
        f"{share} builds with “{later}” came after those with “{earlier}”: whatever else changed "
        "over that time may be at work."
    )


def unjudged_lines(unjudged: Sequence[Unjudged]) -> tuple[str, ...]:
    """One line for each reason why facts could not be judged."""
    reasons = (
        ("few", "Differ on too few builds to pass whatever they showed"),
        ("alike", "The same on every build of a part"),
        ("unknown", "Filled in on no build"),
    )
    said = []
    for why, words in reasons:
        names = [one.name for one in unjudged if one.why == why]
        if names:
            said.append(f"{words}: {_labels(names)}.")
    return tuple(said)


def asides(judged: Sequence[Association], older: int, parts: int) -> tuple[str, ...]:
    """How the list was made, and where it may mislead."""
    if not judged:
        return ()
    orders = max(one.splits for one in judged)
    said = [
        "Effects are differences of means (by t, Welch); numbers are cut at their middle, for many "
        "builds came to the same."
        if any(one.cut is not None for one in judged)
        else "Effects are the middle of what all pairs of builds say (Hodges and Lehmann for "
        "settings, Theil and Sen for numbers), so one wild build hardly moves them.",
        "With more than two settings the two furthest apart are told, with an interval wide "
        "enough for having chosen them.",
        f"Each fact is tested by dealing the results out anew, by ranks, up to {figure(orders, 6)} "
        "times at random, the same way on every look.",
        f"q allows for having looked at {plural(len(judged), 'fact')} (Benjamini and Hochberg): of "
        f"a list that is cut at q {percent(RATE)}, about one in ten is chance.",
        "Builds made one after the other are often alike for reasons nobody wrote down; then q "
        "is too small.",
        "What a build came to (mass, resin left, working time) is not held against it; plies are "
        "a list and left out; the drop test counts by its leak rate.",
    ]
    if parts > 1:
        said.insert(
            0,
            f"The builds are of {parts} parts; each is compared only with builds of its own part.",
        )
    if older:
        said.append(
            f"The newest builds are looked at; {plural(older, 'older one')} "
            f"{'is' if older == 1 else 'are'} left out."
        )
    return tuple(said)


def _step(values: Sequence[float]) -> float:
    """A round step of the fact that builds did differ by: 1, 2 or 5 of some size."""
    low, high = np.percentile(values, [25, 75])
    spread = float(high - low) or max(values) - min(values)
    size = 10.0 ** math.floor(math.log10(spread))
    return next(size * n for n in (5, 2, 1) if size * n <= spread * (1 + 1e-9))


def _labels(names: Sequence[str]) -> str:
    # Some labels hold a comma themselves.
    return "; ".join(_lower(column_label(name)) for name in names)


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]
