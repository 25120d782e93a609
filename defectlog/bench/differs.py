"""What was different about one build: its facts beside those of the builds next to it."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.build_sets import Made, facts_of
from defectlog.bench.leaks import leak_words
from defectlog.bench.series_words import Charted
from defectlog.facts import FACTS, Fact, fact_words
from defectlog.units import NBSP, figure

# Builds looked at on either side, and how many of them have to know a fact before it is compared.
REACH = 3
LEAST_NEIGHBOURS = 3
# Of the neighbours' own figure; less is what any two readings differ by.
_WORTH_A_WORD = 0.05
# What set a build apart is looked up for the newest so many builds outside their limits.
_MOST_EXPLAINED = 20


def differing_facts(
    index: int,
    numbers: Sequence[int],
    known: Mapping[int, Mapping[str, Any]],
    *,
    but: Collection[str] = (),
) -> tuple[str, ...]:
    """The facts of one build that set it apart from its neighbours, in words.

    Parameters
    ----------
    index : place of the build in ``numbers``
    numbers : numbers of the builds, in the order they were made
    known : facts by number of the build
    but : names of facts left out, optional

    Returns
    -------
    tuple of str
        ``Drop test, end: 95 mbar (neighbours 12 to 31 mbar)``. A word differs when no neighbour
        has it; a number when it lies beyond theirs by more than they lie apart, and by more than
        a twentieth. Neighbours are up to three builds on either side, and at least three of them
        have to know the fact.

    Notes
    -----
    A place to begin looking. Nothing here says that the difference did anything.
    """
    near = neighbours(index, numbers)
    own = known.get(numbers[index], {})
    said = []
    for name, fact in FACTS.items():
        if name in but:
            continue
        others = [known[n][name] for n in near if name in known.get(n, {})]
        others = [value for value in others if value is not None]
        if own.get(name) is None or len(others) < LEAST_NEIGHBOURS:
            continue
        words = _differs(fact, own[name], others)
        if words and fact.kind == "plies":
            said.append(f"{fact.label}: none of the neighbours has the same")
        elif words:
            said.append(f"{fact.label}: {fact_words(fact, own[name])} (neighbours {words})")
    return tuple(said)


def neighbours(index: int, numbers: Sequence[int]) -> list[int]:
    """The builds beside one, up to three on either side."""
    return [*numbers[max(0, index - REACH) : index], *numbers[index + 1 : index + 1 + REACH]]


def _differs(fact: Fact, value: Any, others: Sequence[Any]) -> str:
    """How the neighbours have it, or nothing where the value is like theirs."""
    if fact.kind == "number":
        low, high = min(others), max(others)
        apart = max(high - low, _WORTH_A_WORD * max(abs(low), abs(high)))
        if low - apart <= value <= high + apart:
            return ""
        if low == high:
            return fact_words(fact, low)
        unit = f"{NBSP}{fact.unit}" if fact.unit else ""
        return f"{figure(low, 4)} to {figure(high, 4)}{unit}"
    if value in others:
        return ""
    return " or ".join(dict.fromkeys(fact_words(fact, other) for other in others))


def set_apart(
    session: Session,
    charted: Charted,
    shown: Sequence[Made],
    outside: Sequence[int],
    leaks: frozenset[int],
) -> dict[int, tuple[str, ...]]:
    """What set builds outside apart from those beside them, a leak of the bag first."""
    beside_each = {}
    for index in outside[-_MOST_EXPLAINED:]:
        alike = _alike(charted, shown, index, outside, leaks)
        beside_each[index] = alike, alike.index(charted.numbers[index])
    asked = {
        number
        for alike, place in beside_each.values()
        for number in (alike[place], *neighbours(place, alike))
    }
    known: dict[int, dict[str, Any]] = facts_of(session, sorted(asked)) if asked else {}
    but = charted.made.result.facts
    told = {}
    for index, (alike, place) in beside_each.items():
        number = charted.numbers[index]
        leak = (leak_words(known[number]),) if number in leaks else ()
        told[index] = (*leak, *differing_facts(place, alike, known, but=but))
    return told


def _alike(
    charted: Charted,
    shown: Sequence[Made],
    index: int,
    outside: Sequence[int],
    leaks: frozenset[int],
) -> list[int]:
    """The build at ``index`` and those to hold it against: of its part, sound, inside limits.

    Those of its own stretch if there are enough: across a marked change everything differs.
    """
    own = next(phase for phase in charted.phases if phase.start <= index < phase.stop)
    alike = [
        place
        for place, one in enumerate(shown)
        if one.part_id == shown[index].part_id
        and (place == index or (place not in outside and one.number not in leaks))
    ]
    near = [place for place in alike if own.start <= place < own.stop]
    return [charted.numbers[p] for p in (near if len(near) > LEAST_NEIGHBOURS else alike)]
