"""The facts of builds as columns beside a result: what can be held against it, and its words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from defectlog.bench.results import RESULTS
from defectlog.charts import Column, in_turn, moved_together
from defectlog.derived import dew_margin_c, leak_rate_mbar_min
from defectlog.errors import FieldError
from defectlog.facts import FACTS, Fact, Stage, fact_words
from defectlog.units import with_unit

# What a build came to is no condition it was made under. The drop test is told by its leak rate,
# and plies are a list.
_OUTCOMES = {name for result in RESULTS.values() for name in result.facts}
_OUTCOMES |= {name for name, fact in FACTS.items() if fact.stage is Stage.WEIGH}
_INSTEAD = {"drop_start_mbar", "drop_end_mbar", "drop_minutes"}
CONDITIONS = tuple(
    name
    for name, fact in FACTS.items()
    if fact.kind != "plies" and name not in _OUTCOMES | _INSTEAD
)
_WORKED_OUT = {
    "leak_rate": ("Leak rate of the drop test", "mbar/min", leak_rate_mbar_min),
    "dew_margin": ("Margin above the dew point", "°C", dew_margin_c),
}
# From here on two facts are taken for one; from there on it is said that they went along.
AS_ONE, ALONG = 0.9, 0.7
# So far must settings follow each other, or a number rise, to be taken for a change with time.
WITH_TIME = 0.8


@dataclass(frozen=True, slots=True)
class WithTime:
    """Two settings made one after the other: ``later`` is the one that came second."""

    later_is_second: bool
    is_all: bool


# All that has to be known of builds to make their columns.
COLUMN_FACTS = (*CONDITIONS, *sorted(_INSTEAD))


def fact_columns(
    known: Mapping[int, Mapping[str, Any]], numbers: Sequence[int]
) -> tuple[Column, ...]:
    """Every condition of these builds as a column in their order, empty ones too."""
    rows = [known.get(number, {}) for number in numbers]
    columns = [
        Column(name, tuple(row.get(name) for row in rows), is_number=FACTS[name].kind == "number")
        for name in CONDITIONS
    ]
    for name, (_, _, work_out) in _WORKED_OUT.items():
        columns.append(Column(name, tuple(work_out(row) for row in rows), is_number=True))
    return tuple(columns)


def column_fact(name: str) -> Fact:
    """What a column holds, as a fact; of what is worked out a number nobody types.

    Raises
    ------
    FieldError
        If builds are not compared by it.
    """
    if name in _WORKED_OUT:
        label, unit, _ = _WORKED_OUT[name]
        return Fact(name, label, Stage.BAG, "number", unit=unit)
    if name not in CONDITIONS:
        raise FieldError(
            "fact", f"Fact: “{name[:40]}” is none to compare by", "choose one of the list"
        )
    return FACTS[name]


def is_worked_out(name: str) -> bool:
    """Whether it follows from other facts, so that nobody can set it on a form."""
    return name in _WORKED_OUT


def column_label(name: str) -> str:
    """The shown name of a column."""
    return _WORKED_OUT[name][0] if name in _WORKED_OUT else FACTS[name].label


def column_unit(name: str) -> str:
    """The unit of a column of numbers."""
    return _WORKED_OUT[name][1] if name in _WORKED_OUT else FACTS[name].unit


def column_words(name: str, value: Any) -> str:
    """One value of a column as it is shown."""
    if name in _WORKED_OUT:
        return with_unit(value, _WORKED_OUT[name][1])
    return fact_words(FACTS[name], value)


def gone_with(
    values: Sequence[Any], columns: Sequence[Column], *, but: str = "", least: float = AS_ONE
) -> tuple[str, ...]:
    """The other columns that moved on the same builds as these values, by name."""
    found = []
    for column in columns:
        if column.name != but:
            share = moved_together(values, column.values)
            if share is not None and share >= least:
                found.append(column.name)
    return tuple(found)


def one_after_the_other(numbers: Sequence[int], is_second: Sequence[bool]) -> WithTime | None:
    """Whether builds of one setting came after those of the other; None where they mixed."""
    if all(is_second) or not any(is_second):
        return None
    turn = in_turn([float(number) for number in numbers], is_second)
    return WithTime(turn > 0, abs(turn) == 1) if abs(turn) >= WITH_TIME else None
