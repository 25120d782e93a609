"""What all entries of the guide draw on: sources, cautions, quick tests, routines, groups."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from defectlog.derived import DERIVED
from defectlog.facts import FACTS
from defectlog.guide.entry import (
    Caution,
    FactGroup,
    Family,
    QuickTest,
    Routine,
    Source,
    Step,
)
from defectlog.guide.row import Row, read_table

STANDINGS = ("published", "recalled", "common practice", "expert judgement")


@dataclass(frozen=True, slots=True)
class Hold:
    """When nothing may cover the place: what to say, and each trigger."""

    intro: str
    when: tuple[str, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class SomethingElse:
    """The share always kept for what an entry does not name, and what to do about it.

    ``share`` is its part of the prior; it never falls below ``keeps`` whatever the facts say.
    """

    title: str
    share: float
    keeps: float
    check: str
    fix: str
    prevention: str


@dataclass(frozen=True, slots=True)
class Shared:
    """What all entries draw on."""

    families: Mapping[str, Family]
    sources: Mapping[str, Source]
    cautions: Mapping[str, Caution]
    tests: Mapping[str, QuickTest]
    routines: Mapping[str, Routine]
    groups: tuple[FactGroup, ...]
    first_counts: float
    rest_counts: float
    hold: Hold
    something_else: SomethingElse

    def group_of(self, fact: str) -> str:
        """The group a fact belongs to; a fact of none stands for itself."""
        return next((group.key for group in self.groups if fact in group.facts), fact)


def is_fact(name: str) -> bool:
    """Whether a name is a build fact or a class derived from one."""
    return name in FACTS or name in DERIVED


def cautioned(
    row: Row, field: str, text: str, known: Mapping[str, Caution], given: Iterable[Caution]
) -> None:
    """Refuse a text that names a hazard without its caution.

    The words that call for a caution stand in the cautions' own file; a final ``*`` stands for
    any ending.
    """
    for caution, word in called_for(text, known.values()):
        if caution not in given:
            raise row.fault(field, f"“{word}” calls for the caution “{caution.key}”")


def called_for(text: str, cautions: Iterable[Caution]) -> Iterator[tuple[Caution, str]]:
    """The cautions a text calls for, each with the first of its words found there."""
    for caution in cautions:
        for word in caution.words:
            if re.search(_pattern(word), text, re.IGNORECASE):
                yield caution, word
                break


def _pattern(word: str) -> str:
    stem = re.escape(word.removesuffix("*")).replace(r"\ ", r"\s+")
    return rf"\b{stem}\w*" if word.endswith("*") else rf"\b{stem}\b"


def read_step(row: Row, known: Mapping[str, Caution], routine: str = "") -> Step:
    """Read one step: what to do, and the cautions to read before it."""
    do = row.text("do")
    cautions = row.all_of("cautions", known, least=0)
    cautioned(row, "do", do, known, cautions)
    row.end()
    return Step(do, cautions, routine)


def read_shared(folder: Path) -> Shared:
    """Read the shared files of a folder.

    Raises
    ------
    EntryError
        Naming file and field, for anything unknown, missing or out of range.
    """
    sources = {row.where: _source(row) for row in _tables(folder, "sources.toml")}
    cautions = {row.where: _caution(row, sources) for row in _tables(folder, "cautions.toml")}
    groups, first_counts, rest_counts = _groups(
        Row("groups.toml", "", read_table(folder / "groups.toml"))
    )
    hold, something_else = _hold(Row("hold.toml", "", read_table(folder / "hold.toml")), sources)
    return Shared(
        families={row.where: _family(row) for row in _tables(folder, "families.toml")},
        sources=sources,
        cautions=cautions,
        tests={row.where: _test(row, sources, cautions) for row in _tables(folder, "tests.toml")},
        routines={row.where: _routine(row, cautions) for row in _tables(folder, "routines.toml")},
        groups=groups,
        first_counts=first_counts,
        rest_counts=rest_counts,
        hold=hold,
        something_else=something_else,
    )


def _tables(folder: Path, name: str) -> list[Row]:
    return [Row(name, key, table) for key, table in read_table(folder / name).items()]


def _source(row: Row) -> Source:
    standing = row.one_of("standing", STANDINGS)
    cite = row.text("cite")
    read = row.text("read") if standing == "published" else ""
    row.end()
    return Source(row.where, cite, standing, read)


def _caution(row: Row, sources: Mapping[str, Source]) -> Caution:
    made = Caution(
        row.where,
        row.text("title"),
        row.text("say"),
        row.texts("words"),
        row.all_of("sources", sources),
    )
    row.end()
    return made


def _family(row: Row) -> Family:
    made = Family(row.where, row.text("title"), row.text("say"))
    row.end()
    return made


def _test(row: Row, sources: Mapping[str, Source], cautions: Mapping[str, Caution]) -> QuickTest:
    given = row.all_of("cautions", cautions, least=0)
    made = QuickTest(
        row.where,
        row.text("title"),
        row.text("how"),
        row.text("tells"),
        row.text("misleads"),
        given,
        row.all_of("sources", sources),
    )
    cautioned(row, "how", made.how, cautions, given)
    row.end()
    return made


def _routine(row: Row, cautions: Mapping[str, Caution]) -> Routine:
    title = row.text("title")
    steps = tuple(read_step(step, cautions, title) for step in row.rows("steps"))
    row.end()
    return Routine(row.where, title, steps)


def _groups(row: Row) -> tuple[tuple[FactGroup, ...], float, float]:
    first_counts = row.number("first_counts", 0, 1)
    rest_counts = row.number("rest_counts", 0, first_counts)
    made: list[FactGroup] = []
    taken: set[Any] = set()
    for key, table in row.take("group").items():
        group = Row(row.file, f"group.{key}", table)
        facts = group.texts("facts")
        for fact in facts:
            if not is_fact(fact):
                raise group.fault("facts", f"“{fact}” is not a build fact")
            if fact in taken:
                raise group.fault("facts", f"“{fact}” is already in another group")
            taken.add(fact)
        made.append(FactGroup(key, group.text("title"), facts))
        group.end()
    row.end()
    return tuple(made), first_counts, rest_counts


def _hold(row: Row, sources: Mapping[str, Source]) -> tuple[Hold, SomethingElse]:
    hold = Hold(row.text("intro"), row.texts("when"), row.all_of("sources", sources))
    other = Row(row.file, "something-else", row.take("something-else"))
    made = SomethingElse(
        other.text("title"),
        other.number("share", 0, 1),
        other.number("keeps", 0, 1),
        other.text("check"),
        other.text("fix"),
        other.text("prevention"),
    )
    other.end()
    row.end()
    return hold, made
