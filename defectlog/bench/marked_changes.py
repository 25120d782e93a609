"""Where a part's way of being made was changed on purpose, read from the facts of its builds."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from defectlog.facts import FACTS, fact_words

# What may split a series, most telling first. Readings of the day (temperatures, pressures) vary
# on every build and are no marked change.
WATCHED = ("process", "tack_adhesive", "peel_ply", "core", "resin_system")

# A fact that goes to and fro more often is a condition that varies, not a change.
MOST_TURNS = 3
_LONGEST = 26


@dataclass(frozen=True, slots=True)
class MarkedChange:
    """One or more watched facts that differ from the builds before.

    ``index`` is that of the first build made the new way, ``number`` its number, and
    ``last_before`` the number of the build before it. ``short`` fits on a chart ("vacuum
    infusion"), ``words`` tell from what to what.
    """

    index: int
    number: int
    last_before: int
    facts: tuple[str, ...]
    short: str
    words: str


@dataclass(frozen=True, slots=True)
class _Turn:
    index: int
    before: Any
    after: Any


def marked_changes(
    numbers: Sequence[int], known: Mapping[int, Mapping[str, Any]]
) -> tuple[MarkedChange, ...]:
    """Find the changes in a series of builds.

    Parameters
    ----------
    numbers : numbers of the builds, in the order they were made
    known : facts by number of the build
        A fact that is not known on a build says nothing: it neither changed nor stayed.

    Returns
    -------
    tuple of MarkedChange
        In order of the builds. Facts that turn more than three times are left out.
    """
    at_index: dict[int, list[tuple[str, _Turn]]] = defaultdict(list)
    for name in WATCHED:
        turns = _turns(name, numbers, known)
        if len(turns) <= MOST_TURNS:
            for turn in turns:
                at_index[turn.index].append((name, turn))
    return tuple(
        MarkedChange(
            index,
            numbers[index],
            numbers[index - 1],  # a turn needs a build before it
            tuple(name for name, _ in turned),
            _short(*turned[0]),
            "; ".join(_words(name, turn) for name, turn in turned),
        )
        for index, turned in sorted(at_index.items())
    )


def by_fact(changes: Sequence[MarkedChange]) -> Iterator[list[MarkedChange]]:
    """The changes of one watched fact after the other, most telling fact first."""
    for name in WATCHED:
        of_fact = [change for change in changes if name in change.facts]
        if of_fact:
            yield of_fact


def _turns(
    name: str, numbers: Sequence[int], known: Mapping[int, Mapping[str, Any]]
) -> list[_Turn]:
    turns = []
    last = None
    for index, number in enumerate(numbers):
        value = known.get(number, {}).get(name)
        if value is None:
            continue
        if last is not None and value != last:
            turns.append(_Turn(index, last, value))
        last = value
    return turns


def _short(name: str, turn: _Turn) -> str:
    words = fact_words(FACTS[name], turn.after)
    if name != "process":
        words = f"{FACTS[name].label.lower()}: {words}"
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1].rstrip() + "…"


def _words(name: str, turn: _Turn) -> str:
    fact = FACTS[name]
    return f"{fact.label}: {fact_words(fact, turn.before)} before, {fact_words(fact, turn.after)}"
