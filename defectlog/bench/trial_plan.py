"""Plan a trial: from the shop's own spread to the number of panels, and what fewer would show."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.leaks import LEAK_FACTS, leaked
from defectlog.bench.marked_changes import WATCHED
from defectlog.bench.results import BuildValue
from defectlog.bench.trial_results import MEASURES, TOOL_AT_DEMOULD, panel_values
from defectlog.charts.chart import ChartInputError
from defectlog.charts.plan import (
    Spread,
    pooled_spread,
    rate_spread,
    smallest_rate_shown,
    smallest_shown,
    trial_size,
)
from defectlog.charts.rate_gap import Counted, Excess, excess_of
from defectlog.facts import FACTS
from defectlog.records import Build, BuildFact, TrialResult
from defectlog.units import figure, plural

POWER = 0.8
SIGNIFICANCE = 0.05
# Fewer steps between builds say next to nothing: at two the spread may be six times as large.
LEAST_FREEDOM = 3
MOST_PANELS = 50  # of one setting; past this no small shop finishes the trial
_FEWER = (2, 3, 4, 5, 6, 8, 10, 12, 16, 20)


@dataclass(frozen=True, slots=True)
class CountSpread:
    """How counts of builds made alike differ: their ``rate``, on what ``size`` each, and by how
    much more than chance has them.
    """

    rate: float
    size: float
    excess: Excess

    def for_rise(self, difference: float) -> Spread:
        """The spread of the rates, where one setting has so many more."""
        value, low, high = (
            rate_spread(self.rate, difference, size=self.size, excess=excess)
            for excess in (self.excess.value, self.excess.low, self.excess.high)
        )
        return Spread(self.excess.freedom, value, low, high)


@dataclass(frozen=True, slots=True)
class KnownSpread:
    """How much builds made alike differ, in the unit of the result, and what that rests on."""

    spread: Spread | CountSpread
    builds: int
    words: str


@dataclass(frozen=True, slots=True)
class Sizing:
    """How many panels of each setting a trial needs, in words, and what fewer would show.

    ``needed`` is None when no trial of up to 50 panels a setting would do. ``shown`` are
    (panels per setting, the smallest difference they would show).
    """

    needed: int | None
    words: str
    shown: tuple[tuple[int, str], ...]


def known_spread(
    session: Session,
    part_id: int,
    result: TrialResult,
    fact: str,
    kind: str | None = None,
    *,
    surface: str = TOOL_AT_DEMOULD.key,
) -> KnownSpread | None:
    """The spread among the part's builds made alike, by the process of the newest one.

    Alike are builds that agree in what a trend watches and in the fact to be tried; where too few
    do, as with a number that comes out anew on every build, whatever that fact was. Builds whose
    bag leaked are left out, for no trial is planned to have such. None while too few builds have
    the result.
    """
    values = panel_values(session, part_id, result, kind, surface=surface)
    known = _facts(session, part_id, {*WATCHED, fact, *LEAK_FACTS})
    sound = {n: v for n, v in values.items() if not leaked(known.get(n, {}))}
    used, whatever = _made_alike(sound, known, {*WATCHED, fact}), ""
    if not used and fact not in WATCHED:
        used, whatever = _made_alike(sound, known, set(WATCHED)), FACTS[fact].label
    spread = (_counted if MEASURES[result].is_counted else _plain)(used) if used else None
    if spread is None:
        return None
    number = sum(map(len, used))
    words = _spread_words(result, spread, number, whatever, len(values) - len(sound))
    return KnownSpread(spread, number, words)


def fact_now(session: Session, part_id: int, fact: str) -> Any:
    """The fact as it was on the part's newest build that has it; None where none does."""
    return session.scalar(
        select(BuildFact.value)
        .join(Build, BuildFact.build_id == Build.id)
        .where(Build.part_id == part_id, BuildFact.name == fact)
        .order_by(Build.id.desc())
        .limit(1)
    )


def _made_alike(
    sound: Mapping[int, BuildValue], known: Mapping[int, Mapping[str, Any]], alike: set[str]
) -> list[list[BuildValue]]:
    """Builds in groups of which no two differ in a fact; none at all while they are too few."""
    newest = known.get(max(sound, default=0), {}).get("process")
    groups: dict[str, list[BuildValue]] = defaultdict(list)
    for number, value in sound.items():
        facts = known.get(number, {})
        if facts.get("process") == newest:
            groups[repr([facts.get(name) for name in sorted(alike)])].append(value)
    used = [group for group in groups.values() if len(group) > 1]
    return used if sum(len(group) - 1 for group in used) >= LEAST_FREEDOM else []


def _plain(alike: Sequence[Sequence[BuildValue]]) -> Spread | None:
    spread = pooled_spread([[one.value for one in group] for group in alike])
    return spread if spread.value else None


def _counted(alike: Sequence[Sequence[BuildValue]]) -> CountSpread | None:
    groups = [
        Counted([float(one.count or 0) for one in group], [one.size for one in group])
        for group in alike
    ]
    sizes = [size for group in groups for size in group.sizes]
    rate = sum(sum(group.counts) for group in groups) / sum(sizes)
    return CountSpread(rate, sum(sizes) / len(sizes), excess_of(groups)) if rate else None


def _spread_words(
    result: TrialResult, spread: Spread | CountSpread, number: int, whatever: str, left: int
) -> str:
    measure = MEASURES[result]
    words = f"{plural(number, 'build')} of this part made alike "
    if whatever:
        words += f"(but for “{whatever.lower()}”, which may have added to it) "
    if isinstance(spread, CountSpread):
        excess = spread.excess
        on = measure.counted_on.format(figure(spread.size, 2))
        words += (
            f"had {measure.write(spread.rate)}{f' on {on}' if '{}' in measure.counted_on else ''}; "
            f"they differ {figure(excess.value, 2)} times as much (variance) as chance alone has "
            f"counts differ, 95 % interval {figure(excess.low, 2)} to {figure(excess.high, 2)}"
        )
    else:
        words += (
            f"differ by a standard deviation of {measure.difference(spread.value)}, 95 % interval "
            f"{measure.between(spread.low, spread.high)}"
        )
    if left:
        words += (
            f"; {plural(left, 'build')} whose bag leaked {'is' if left == 1 else 'are'} left out"
        )
    return words + "."


def size_trial(
    result: TrialResult,
    difference: float,
    spread: Spread | CountSpread,
    *,
    settings: int,
    by_day: bool,
) -> Sizing:
    """How many panels of each setting show a difference with 80 % power.

    ``spread`` with no degrees of freedom is a person's own guess. Of counts the difference is
    taken for a rise, which scatters more and needs more panels than a fall by as much. With more
    than two settings each is compared with the first, and the comparisons share the 5 %.
    """
    measure = MEASURES[result]
    significance = shared_significance(settings)
    own = spread.for_rise(difference) if isinstance(spread, CountSpread) else spread
    needed = _needed(difference, own.value, significance, by_day)
    what = f"a difference of {measure.difference(difference)}"
    if needed is None:
        words = (
            f"More than {MOST_PANELS} panels of each setting would be needed to show {what}: look "
            "for a larger effect, or judge by something that scatters less."
        )
    else:
        words = (
            f"{plural(needed, 'panel')} of each setting, {needed * settings} in all, would show "
            f"{what} or more in 4 of 5 such trials."
        )
        words += _how_sure(difference, own, significance, by_day)
    numbers = [n for n in _FEWER if needed is None or n <= max(needed, 3)][:8]
    if needed and needed not in numbers:
        numbers.append(needed)
    return Sizing(
        needed, words, shown_by(result, spread, settings=settings, by_day=by_day, numbers=numbers)
    )


def shown_by(
    result: TrialResult,
    spread: Spread | CountSpread,
    *,
    settings: int,
    by_day: bool,
    numbers: Sequence[int] = _FEWER[:8],
) -> tuple[tuple[int, str], ...]:
    """For numbers of panels of each setting, the smallest difference they show with 80 % power."""
    significance = shared_significance(settings)
    return tuple(
        (number, MEASURES[result].difference(_shown(number, spread, significance, by_day)))
        for number in numbers
    )


def _shown(number: int, spread: Spread | CountSpread, significance: float, by_day: bool) -> float:
    if isinstance(spread, CountSpread):
        return smallest_rate_shown(
            number,
            spread.rate,
            size=spread.size,
            excess=spread.excess.value,
            power=POWER,
            significance=significance,
            blocked=by_day,
        )
    return smallest_shown(
        number, spread.value, power=POWER, significance=significance, blocked=by_day
    )


def shared_significance(settings: int) -> float:
    """The share of false alarms each comparison may have, so that all together have 5 %."""
    return SIGNIFICANCE / max(1, settings - 1)


def _needed(difference: float, spread: float, significance: float, by_day: bool) -> int | None:
    try:
        size = trial_size(
            difference, spread, power=POWER, significance=significance, blocked=by_day
        )
    except ChartInputError:
        return None
    return size.per_setting if size.per_setting <= MOST_PANELS else None


def _how_sure(difference: float, spread: Spread, significance: float, by_day: bool) -> str:
    if not spread.freedom:
        return " That rests on the spread you gave; nothing on record confirms it yet."
    low = _needed(difference, spread.low, significance, by_day)
    high = _needed(difference, spread.high, significance, by_day)
    if low == high:
        return ""
    most = str(high) if high is not None else f"more than {MOST_PANELS}"
    return (
        f" As surely as the spread is known, it could be {low} or {most}: between those the "
        "records cannot tell yet."
    )


def guessed(spread: float) -> Spread:
    """A spread somebody gave because nothing is on record."""
    return Spread(0, spread, spread, spread)


def _facts(session: Session, part_id: int, names: set[str]) -> dict[int, dict[str, Any]]:
    known: dict[int, dict[str, Any]] = {}
    rows = session.execute(
        select(BuildFact.build_id, BuildFact.name, BuildFact.value)
        .join(Build, BuildFact.build_id == Build.id)
        .where(Build.part_id == part_id, BuildFact.name.in_(names))
    )
    for number, name, value in rows:
        known.setdefault(number, {})[name] = value
    return known
