"""Which builds are looked at together: of a part, mould, process or material, or as named."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, String, and_, cast, exists, func, or_, select
from sqlalchemy.orm import Session, aliased

from defectlog.bench.parts import find_part
from defectlog.errors import FieldError
from defectlog.facts import FACTS
from defectlog.records import Build, BuildFact, Part
from defectlog.units import plural

# More points than this run into each other on any screen; the newest are shown, and it is said.
MOST_BUILDS = 200
MOST_NAMED = 1000
_LONGEST_NAME = 60
# What was laid up in the last so many builds is offered to choose by.
_OFFERED_FROM = 300
# The facts that name a material or the batch it came from; plies name theirs one by one.
_MATERIALS = ("resin_system", "resin_batch", "cloth_batch")


@dataclass(frozen=True, slots=True)
class BuildSet:
    """What is asked of the builds; an empty field asks nothing. All of it has to hold.

    ``process`` is a word of that build fact, ``material`` a resin system, the cloth of a ply or
    a batch of either, ``builds`` numbers as typed: ``3, 7-12``, and ``name`` what a person calls
    them.
    """

    part: int | None = None
    mould: str = ""
    process: str = ""
    material: str = ""
    builds: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """One build of a set."""

    number: int
    started_at: datetime
    part_id: int
    target_mass_g: float | None


@dataclass(frozen=True, slots=True)
class ChosenBuilds:
    """The builds of a set in the order of their numbers, the newest ones if there are many.

    ``words`` name the set, ``older`` is how many older ones were left out.
    """

    words: str
    made: tuple[Made, ...]
    older: int

    @property
    def numbers(self) -> list[int]:
        return [one.number for one in self.made]


@dataclass(frozen=True, slots=True)
class PartChoice:
    """A part to look at, and how many builds it has."""

    id: int
    name: str
    builds: int


@dataclass(frozen=True, slots=True)
class SetChoices:
    """What builds can be chosen by, as it stands in the records."""

    parts: tuple[tuple[int, str], ...]
    moulds: tuple[tuple[str, str], ...]
    processes: tuple[tuple[str, str], ...]
    materials: tuple[str, ...]


def choose_builds(session: Session, wanted: BuildSet, *, most: int = MOST_BUILDS) -> ChosenBuilds:
    """Look up the builds of a set, the newest ``most`` of them.

    Raises
    ------
    NotFoundError
        If there is no such part.
    FieldError
        If the numbers cannot be read, or the process is none.
    """
    asked, words = conditions(session, wanted)
    number = session.scalar(select(func.count(Build.id)).join(Part).where(*asked)) or 0
    rows = session.execute(made_where(*asked).order_by(Build.id.desc()).limit(most))
    made = tuple(reversed([Made(*row) for row in rows]))
    return ChosenBuilds(words, made, number - len(made))


def made_where(*asked: ColumnElement[bool]) -> Select[Any]:
    """The columns of ``Made``, of the builds that these conditions hold for."""
    return (
        select(Build.id, Build.started_at, Build.part_id, Part.target_mass_g)
        .join(Part)
        .where(*asked)
    )


def part_choices(session: Session) -> tuple[PartChoice, ...]:
    """Every part with how many builds it has, most builds first."""
    number = func.count(Build.id)
    rows = session.execute(
        select(Part.id, Part.name, number)
        .outerjoin(Build, Build.part_id == Part.id)
        .group_by(Part.id, Part.name)
        .order_by(number.desc(), func.lower(Part.name))
    )
    return tuple(PartChoice(*row) for row in rows)


def set_choices(session: Session) -> SetChoices:
    """Everything that builds can be chosen by; materials are those of the newest 300 builds."""
    parts = list(
        session.execute(select(Part.id, Part.name, Part.mould).order_by(func.lower(Part.name)))
    )
    newest = select(Build.id).order_by(Build.id.desc()).limit(_OFFERED_FROM)
    # Told apart as text: most builds share their facts with others.
    kept = cast(BuildFact.value, String)
    materials: set[str] = set()
    for name, text in session.execute(
        select(BuildFact.name, kept)
        .where(
            BuildFact.build_id.in_(newest.scalar_subquery()),
            BuildFact.name.in_((*_MATERIALS, "plies")),
        )
        .distinct()
    ):
        materials |= _materials(name, json.loads(text))
    return SetChoices(
        parts=tuple((row.id, row.name) for row in parts),
        moulds=tuple(
            (mould, mould)
            for mould in sorted({row.mould for row in parts if row.mould}, key=str.casefold)
        ),
        processes=tuple(FACTS["process"].choices.items()),
        materials=tuple(sorted(materials, key=str.casefold)),
    )


def read_numbers(text: str) -> frozenset[int]:
    """Read numbers of builds as typed: ``3, 7-12``.

    Raises
    ------
    FieldError
        If it is anything else, or more than a thousand.
    """
    numbers: set[int] = set()
    for word in re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip())):
        match = re.fullmatch(r"(\d{1,9})(?:-(\d{1,9}))?", word)
        if match is None:
            raise FieldError(
                "builds", f"Builds: “{word}” is no number of a build", "write them as 3, 7-12"
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first or last - first + len(numbers) >= MOST_NAMED:
            raise FieldError(
                "builds",
                f"Builds: “{word}” runs backwards or names more than {MOST_NAMED}",
                "name fewer builds, the smaller number first",
            )
        numbers.update(range(first, last + 1))
    return frozenset(numbers)


def facts_of(
    session: Session, numbers: Sequence[int], names: Sequence[str] = ()
) -> dict[int, dict[str, Any]]:
    """The facts of these builds, by number of the build and name; all of them, or those named."""
    asked = [BuildFact.build_id.in_(numbers)]
    if names:
        asked.append(BuildFact.name.in_(names))
    known: dict[int, dict[str, Any]] = {}
    for number, name, value in session.execute(
        select(BuildFact.build_id, BuildFact.name, BuildFact.value).where(*asked)
    ):
        known.setdefault(number, {})[name] = value
    return known


def conditions(session: Session, wanted: BuildSet) -> tuple[list[ColumnElement[bool]], str]:
    """What a build and its part have to fulfil to be in the set, and the set in words.

    Raises
    ------
    NotFoundError, FieldError
        As for ``choose_builds``.
    """
    asked: list[ColumnElement[bool]] = []
    words = []
    if wanted.part is not None:
        words.append(find_part(session, wanted.part).name)
        asked.append(Build.part_id == wanted.part)
    if wanted.mould:
        words.append(f"mould {wanted.mould}")
        asked.append(Part.mould == wanted.mould)
    if wanted.process:
        shown = FACTS["process"].choices
        if wanted.process not in shown:
            raise FieldError("process", "There is no such process", "choose one of the list")
        words.append(shown[wanted.process])
        asked.append(_has("process", cast(_Known.value, String) == _as_kept(wanted.process)))
    if wanted.material:
        words.append(wanted.material)
        asked.append(_has_material(wanted.material))
    if wanted.builds.strip():
        numbers = read_numbers(wanted.builds)
        named = wanted.name.strip()[:_LONGEST_NAME]
        words.append(named or f"{plural(len(numbers), 'build')} chosen by hand")
        asked.append(Build.id.in_(sorted(numbers)))
    return asked, ", ".join(words) or "all parts"


# A name of its own in SQL, for a set may be asked for within a question about facts.
_Known = aliased(BuildFact)


def _has(name: str, holds: ColumnElement[bool]) -> ColumnElement[bool]:
    return exists().where(and_(_Known.build_id == Build.id, _Known.name == name, holds))


def _has_material(material: str) -> ColumnElement[bool]:
    # JSON is kept as text, written in one way only: see records/session.py.
    kept, text = cast(_Known.value, String), _as_kept(material)
    cloth = kept.contains(f'"material": {text}', autoescape=True)
    return or_(*(_has(name, kept == text) for name in _MATERIALS), _has("plies", cloth))


def _as_kept(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _materials(name: str, value: Any) -> set[str]:
    if name == "plies":
        return {ply["material"] for ply in value if ply.get("material")}
    return {str(value)}
