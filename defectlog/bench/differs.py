"""What was different about one build: its facts beside those of the builds next to it."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from defectlog.facts import FACTS, Fact, fact_words
from defectlog.units import NBSP, figure

# Builds looked at on either side, and how many of them have to know a fact before it is compared.
REACH = 3
LEAST_NEIGHBOURS = 3
# Of the neighbours' own figure; less is what any two readings differ by.
_WORTH_A_WORD = 0.05


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
