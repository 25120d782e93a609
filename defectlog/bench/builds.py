"""Log a build: start it, write down its facts as they become known, release it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.parts import find_part
from defectlog.bench.remarks import remark
from defectlog.derived import DERIVED, derive, dew_margin_c, leak_rate_mbar_min
from defectlog.errors import ChangedMeanwhileError, DefectlogError, FieldError, NotFoundError
from defectlog.facts import FACTS, fact_words
from defectlog.records import Build, BuildFact
from defectlog.units import figure, with_unit

# Nobody lays up two of one part within this time; whoever presses the button twice does.
PRESSED_TWICE = timedelta(minutes=2)


class FactChangedError(FieldError):
    """A fact was written down from another screen after this one was opened."""

    def __init__(self, name: str, now: Any, typed: Any) -> None:
        self.now = now
        fact = FACTS[name]
        super().__init__(
            name,
            f"{fact.label}: "
            + ("it was emptied" if now is None else f"“{fact_words(fact, now)}” was saved")
            + " on another screen meanwhile; here stands "
            + ("nothing" if typed is None else f"“{fact_words(fact, typed)}”"),
            "save once more to keep what stands here, or correct it first",
        )


class OpenFindingsError(DefectlogError):
    """A build cannot be released while a finding waits for a decision."""

    def __init__(self, build: Build, count: int) -> None:
        self.build = build
        what = "one finding is" if count == 1 else f"{count} findings are"
        super().__init__(
            f"Build {build.id} cannot be released yet, {what} open",
            "decide the outcome of each first",
        )


def find_build(session: Session, number: int) -> Build:
    """The build of that number, unless it lies in the bin."""
    build = session.get(Build, number)
    if build is None or build.deleted_at is not None:
        raise NotFoundError("build", number)
    return build


def start_build(session: Session, part_number: int, at: datetime) -> Build:
    """Start a lay-up of a part."""
    build = Build(part=find_part(session, part_number), started_at=at)
    session.add(build)
    session.flush()
    return build


def begun_just_now(session: Session, part_number: int, at: datetime) -> Build | None:
    """The build of that part begun within the last two minutes, as long as nothing is on it.

    Starting the part again then means this one: the button was pressed twice, perhaps after the
    way back.
    """
    build = session.scalar(
        select(Build)
        .where(Build.part_id == part_number, Build.started_at > at - PRESSED_TWICE)
        .where(Build.started_at <= at)
        .order_by(Build.id.desc())
        .limit(1)
    )
    return None if build is None or build.facts or build.photos else build


def save_facts(
    session: Session,
    number: int,
    values: Mapping[str, Any],
    at: datetime,
    *,
    seen: Mapping[str, Any] | None = None,
) -> Build:
    """Write down facts of a build; ``None`` takes a fact back, facts not named stay.

    Values are as ``facts.read_fact`` types them. ``seen`` is what stood there when they were
    typed, where that is known: a value that has not been changed since leaves its fact alone.

    Raises
    ------
    ChangedMeanwhileError
        If a fact was changed both here and elsewhere since it was seen; nothing is saved then.
    """
    build = find_build(session, number)
    known = {fact.name: fact for fact in build.facts}
    if seen is not None:
        values = {n: v for n, v in values.items() if n not in seen or seen[n] != v}
        _not_overtaken(values, seen, build.known)
    for name, value in values.items():
        fact = known.get(name)
        if value is None:
            if fact is not None:
                build.facts.remove(fact)
        elif fact is None:
            build.facts.append(BuildFact(name=name, value=value, at=at))
        elif fact.value != value:
            fact.value, fact.at = value, at
    session.flush()
    return build


def _not_overtaken(
    values: Mapping[str, Any], seen: Mapping[str, Any], known: Mapping[str, Any]
) -> None:
    overtaken = [
        FactChangedError(name, known.get(name), value)
        for name, value in values.items()
        if name in seen and known.get(name) not in (seen[name], value)
    ]
    if overtaken:
        raise ChangedMeanwhileError(overtaken)


def release_build(session: Session, number: int, at: datetime) -> Build:
    """Release a build: every finding has its outcome."""
    build = find_build(session, number)
    waiting = sum(finding.is_open for finding in build.findings)
    if waiting:
        raise OpenFindingsError(build, waiting)
    build.released_at = at
    return build


def reopen_build(session: Session, number: int) -> Build:
    """Take a release back."""
    build = find_build(session, number)
    build.released_at = None
    return build


def save_note(session: Session, number: int, note: str, seen: str | None = None) -> Build:
    """Keep a remark on a build; ``seen`` is the remark it was typed over, if that is known."""
    build = find_build(session, number)
    build.note = remark(build.note, note, seen)
    return build


@dataclass(frozen=True, slots=True)
class Reading:
    """Something that follows from the facts of a build, in words."""

    words: str
    standing: str = ""  # within, near, over, or nothing


def drop_test_words(known: Mapping[str, Any]) -> Reading | None:
    """The drop test as a rate and a class. The classes are judgement, not a standard."""
    rate = leak_rate_mbar_min(known)
    if rate is None:
        return None
    word = derive(known).get("drop_class")
    if word is None:
        return Reading(
            "pressure fell, so it says nothing about leaks: were start and end swapped, or the "
            "gauge read below air instead of absolute?",
            "near",
        )
    standing = {"tight": "within", "ok": "within", "marginal": "near", "fail": "over"}[word]
    return Reading(
        f"{with_unit(rate, 'mbar/min', 2)}: {DERIVED['drop_class'].values[word]}", standing
    )


def dew_words(known: Mapping[str, Any]) -> Reading | None:
    """How far the surface was above the dew point."""
    margin = dew_margin_c(known)
    if margin is None:
        return None
    close = margin < 3
    return Reading(
        f"{with_unit(margin, '°C', 2)} above the dew point"
        + (": close, at least 3 °C is usual" if close else ""),
        "near" if close else "within",
    )


def resin_words(known: Mapping[str, Any]) -> Reading | None:
    """What was mixed against the plan, and what was left over."""
    planned, mixed, left = (known.get(f"resin_{w}_g") for w in ("planned", "mixed", "left"))
    if not mixed:
        return None
    words = f"mixed {with_unit(mixed, 'g', 4)}"
    if planned:
        over = 100 * (mixed - planned) / planned
        words += f", {figure(abs(over), 2)} % {'more' if over >= 0 else 'less'} than planned"
    if left is not None:
        words += f"; {with_unit(left, 'g', 4)} left over"
        if left > mixed:
            return Reading(f"{words}, more than was mixed: check both", "near")
        words += f", {figure(100 * left / mixed, 2)} % of it"
    return Reading(words)


def mass_words(known: Mapping[str, Any], target_mass_g: float | None) -> Reading | None:
    """The mass against the part's target."""
    mass = known.get("mass_g")
    if mass is None:
        return None
    words = with_unit(mass, "g", 4)
    if target_mass_g:
        over = 100 * (mass - target_mass_g) / target_mass_g
        words += (
            f", target {with_unit(target_mass_g, 'g', 4)}: "
            f"{figure(abs(over), 2)} % {'over' if over >= 0 else 'under'}"
        )
    return Reading(words)
