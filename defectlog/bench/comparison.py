"""Two settings of one fact side by side: what was asked of them, and what it cost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import BuildSet, ChosenBuilds, choose_builds, facts_of
from defectlog.bench.comparison_words import Pair, comparison_asides, side_asides, side_sentence
from defectlog.bench.fact_columns import (
    COLUMN_FACTS,
    column_fact,
    column_label,
    fact_columns,
    gone_with,
    one_after_the_other,
)
from defectlog.bench.fact_settings import FactSettings, settings_of
from defectlog.bench.leaks import leaked
from defectlog.bench.marked_changes import WATCHED
from defectlog.bench.results import RESULTS, BuildValue, Result, ResultValues, result_values
from defectlog.charts import TooFewValuesError, WithinComparison, compare_within, means_within
from defectlog.errors import FieldError
from defectlog.facts import Fact
from defectlog.records import Part

# A process may win on voids and lose on these.
_BESIDE = ("voids", "mass", "effort")
# More strips than this are taken together, whatever the part.
_MOST_PARTS = 4


@dataclass(frozen=True, slots=True)
class Valued:
    """One build of a side: its number, its part, and what it came to."""

    number: int
    part: str
    made: BuildValue

    @property
    def value(self) -> float:
        return self.made.value


@dataclass(frozen=True, slots=True)
class Strip:
    """Builds of one setting, of one part or of all: ``words`` name them."""

    words: str
    builds: tuple[Valued, ...]


@dataclass(frozen=True, slots=True)
class Side:
    """One result compared: its sentence, and the figures where there are enough builds.

    ``builds`` are those compared, by setting; of parts that do not have enough of both none
    is, and ``asides`` name them. Where no part has, they are all that have the result.
    """

    made: ResultValues
    sentence: str
    asides: tuple[str, ...]
    strips: tuple[Strip, ...]
    builds: tuple[tuple[Valued, ...], tuple[Valued, ...]]
    found: WithinComparison | None

    @property
    def result(self) -> Result:
        return self.made.result


@dataclass(frozen=True, slots=True)
class Compared:
    """Two settings of a fact compared by one result, and by mass, time and voids beside it.

    ``pair`` is None where the builds were not made with two settings; ``sentence`` then says
    so, and is empty otherwise. ``offered`` are the facts these builds can be compared by. The
    first of ``sides`` is what was asked for.
    """

    chosen: ChosenBuilds
    fact: Fact
    offered: tuple[Fact, ...]
    settings: FactSettings
    pair: Pair | None
    sentence: str
    sides: tuple[Side, ...] = ()
    asides: tuple[str, ...] = ()


def compare_settings(
    session: Session,
    wanted: BuildSet,
    fact_name: str,
    result: Result,
    *,
    first: str = "",
    second: str = "",
    surface: str = "",
    kind: str = "",
) -> Compared:
    """Compare two settings of one fact on a set of builds.

    Parameters
    ----------
    fact_name : name of a build fact, or empty
        Empty: the first that was changed on purpose on these builds.
    first, second : keys of settings, optional
        The two made most often, if not given.
    surface, kind : optional
        As for ``result_values``.

    Raises
    ------
    NotFoundError
        If there is no such part or kind.
    FieldError
        If the set cannot be read, there is no such fact, or both settings are one.
    """
    if fact_name:
        column_fact(fact_name)  # or there is no such fact
    chosen = choose_builds(session, wanted)
    known = facts_of(session, chosen.numbers, COLUMN_FACTS)
    columns = fact_columns(known, chosen.numbers)
    every = {one.name: settings_of(column_fact(one.name), one.values) for one in columns}
    offered = tuple(one.fact for one in every.values() if one.can_be_compared)
    settings = every[fact_name or _first(offered)]
    fact = settings.fact
    pair = _pair(settings, first, second)
    if pair is None:
        return Compared(
            chosen, fact, offered, settings, None, _no_pair(settings, chosen, first, second)
        )
    names = _part_names(session, chosen)
    results = [result, *(RESULTS[key] for key in _BESIDE if key != result.key)]
    made = [
        result_values(session, one, chosen, surface=surface, kind=kind if one is result else "")
        for one in results
    ]
    sides = tuple(_side(one, pair, settings, chosen, names) for one in made)
    asides = _asides(sides[0], pair, settings, chosen, known)
    return Compared(chosen, fact, offered, settings, pair, "", sides, asides)


def _first(offered: Sequence[Fact]) -> str:
    names = [fact.name for fact in offered]
    return next((name for name in WATCHED if name in names), WATCHED[0])


def _pair(settings: FactSettings, first: str, second: str) -> Pair | None:
    if first and first == second:
        raise FieldError("b", "Both settings are the same", "choose two different ones")
    often = [one for one in settings.choices if one.key not in (first, second)]
    one = settings.find(first) if first else next(iter(often), None)
    others = [choice for choice in often if choice != one]
    other = settings.find(second) if second else next(iter(others), None)
    return Pair(settings.fact, one, other) if one and other else None


def _no_pair(settings: FactSettings, chosen: ChosenBuilds, first: str, second: str) -> str:
    label = settings.fact.label
    if not chosen.made:
        return f"There is no build to compare yet ({chosen.words})."
    if not settings.choices:
        return f"{label} is filled in on none of these builds ({chosen.words})."
    if (first and not settings.find(first)) or (second and not settings.find(second)):
        return f"None of these builds ({chosen.words}) was made with one of the two settings."
    return (
        f"{label} is “{settings.choices[0].words}” wherever it is filled in on these builds "
        f"({chosen.words}): there is nothing to compare it with."
    )


def _part_names(session: Session, chosen: ChosenBuilds) -> dict[int, str]:
    parts = {one.part_id for one in chosen.made}
    return {
        row.id: row.name
        for row in session.execute(select(Part.id, Part.name).where(Part.id.in_(parts)))
    }


def _side(
    made: ResultValues,
    pair: Pair,
    settings: FactSettings,
    chosen: ChosenBuilds,
    names: Mapping[int, str],
) -> Side:
    rows: dict[int, tuple[list[Valued], list[Valued]]] = {}
    for one, key in zip(chosen.made, settings.keys, strict=True):
        if key in pair.keys and one.number in made.values:
            group = rows.setdefault(one.part_id, ([], []))
            valued = Valued(one.number, names[one.part_id], made.values[one.number])
            group[pair.keys.index(key)].append(valued)
    parts = sorted(rows, key=lambda part: names[part].casefold())
    groups = [rows[part] for part in parts]
    found = _compare(made.result, groups)
    used = found.means.used if found else range(len(parts))
    left_out = [names[part] for place, part in enumerate(parts) if place not in used]
    parts, groups = [parts[place] for place in used], [groups[place] for place in used]
    named = [names[part] for part in parts]
    first = tuple(one for group in groups for one in group[0])
    second = tuple(one for group in groups for one in group[1])
    return Side(
        made=made,
        sentence=side_sentence(
            made, pair, found, [one.made for one in first], [one.made for one in second], len(parts)
        ),
        asides=side_asides(found, named, left_out),
        strips=_strips(pair, named, groups),
        builds=(first, second),
        found=found,
    )


def _compare(
    result: Result, groups: Sequence[tuple[list[Valued], list[Valued]]]
) -> WithinComparison | None:
    values = [([one.value for one in a], [one.value for one in b]) for a, b in groups]
    try:
        found = compare_within(values, turn=result.turn)
    except TooFewValuesError:
        return None
    if result.key != "mass":
        return found
    # Told against its target, a mass has its nothing at -1: the ratio is that of the masses.
    masses = means_within(
        [([1 + v for v in a], [1 + v for v in b]) for a, b in values], turn=result.turn
    )
    return replace(found, means=replace(found.means, ratio=masses.ratio))


def _strips(
    pair: Pair, parts: Sequence[str], groups: Sequence[tuple[list[Valued], list[Valued]]]
) -> tuple[Strip, ...]:
    if 1 < len(parts) <= _MOST_PARTS:
        return tuple(
            Strip(f"{part}, {choice.words}", tuple(side))
            for part, group in zip(parts, groups, strict=True)
            for choice, side in zip(pair.choices, group, strict=True)
        )
    return tuple(
        Strip(choice.words, tuple(one for group in groups for one in group[place]))
        for place, choice in enumerate(pair.choices)
    )


def _asides(
    main: Side,
    pair: Pair,
    settings: FactSettings,
    chosen: ChosenBuilds,
    known: Mapping[int, Mapping[str, Any]],
) -> tuple[str, ...]:
    """What else set the builds of the two settings apart: other facts, and time."""
    keys = {one.number: key for one, key in zip(chosen.made, settings.keys, strict=True)}
    numbers = [n for n in chosen.numbers if n in main.made.values and keys[n] in pair.keys]
    is_second = [keys[number] == pair.keys[1] for number in numbers]
    order = one_after_the_other(numbers, is_second)
    with_it = gone_with(is_second, fact_columns(known, numbers), but=settings.fact.name)
    leaks = [keys[number] for number in numbers if leaked(known.get(number, {}))]
    return comparison_asides(
        pair,
        order,
        [column_label(name) for name in with_it],
        (leaks.count(pair.keys[0]), leaks.count(pair.keys[1])),
        settings.cut,
        chosen.older,
    )
