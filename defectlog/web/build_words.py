"""A build in words: what each stage holds, what follows from it, how far the build has come."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from defectlog.bench.builds import Reading, dew_words, drop_test_words, mass_words, resin_words
from defectlog.bench.room import measurement_words
from defectlog.facts import FACTS, Stage, fact_words, of_stage
from defectlog.records import Build, Measurement
from defectlog.units import figure, plural, with_unit

_DROP_FACTS = ("drop_start_mbar", "drop_end_mbar", "drop_minutes")


@dataclass(frozen=True, slots=True)
class Line:
    """One known thing: its label, its figure with unit, and what that means, with its standing."""

    label: str
    words: str
    verdict: str = ""
    standing: str = ""
    is_wide: bool = False


@dataclass(frozen=True, slots=True)
class StageEntry:
    """One stage of a build as it stands in the logbook."""

    stage: Stage
    at: datetime | None
    lines: tuple[Line, ...]


def stage_entries(build: Build) -> list[StageEntry]:
    """The stages in the order of the day's work, each with what is known and what follows."""
    known = build.known
    entries = []
    for stage in Stage:
        names = {fact.name for fact in of_stage(stage)}
        times = [row.at for row in build.facts if row.name in names]
        lines = (*_fact_lines(stage, known), *_follows(stage, build, known))
        entries.append(StageEntry(stage, max(times, default=None), lines))
    return entries


def lines_of(known: Mapping[str, Any], names: Iterable[str]) -> tuple[Line, ...]:
    """Chosen facts in words, in the order of the names; unknown ones are left out."""
    return tuple(
        Line(
            FACTS[name].label,
            fact_words(FACTS[name], known[name]),
            is_wide=FACTS[name].kind in ("plies", "text"),
        )
        for name in names
        if known.get(name) is not None
    )


def _fact_lines(stage: Stage, known: Mapping[str, Any]) -> tuple[Line, ...]:
    # These stand in the lines that follow from them.
    told = {"mass_g"}
    if drop_test_words(known):
        told |= set(_DROP_FACTS)
    if resin_words(known):
        told |= {"resin_mixed_g", "resin_left_g"}
    return lines_of(known, (fact.name for fact in of_stage(stage) if fact.name not in told))


def _follows(stage: Stage, build: Build, known: Mapping[str, Any]) -> tuple[Line, ...]:
    if stage is Stage.LAYUP:
        return _said("Dew point", dew_words(known))
    if stage is Stage.BAG and (drop := drop_test_words(known)):
        start, end, minutes = (known[name] for name in _DROP_FACTS)
        span = f"{figure(start)} → {with_unit(end, 'mbar')} in {with_unit(minutes, 'min')}:"
        return (Line("Drop test", span, drop.words, drop.standing, is_wide=True),)
    if stage is Stage.RESIN:
        return _said("Resin used", resin_words(known))
    if stage is Stage.WEIGH:
        return _said("Mass", mass_words(known, build.part.target_mass_g))
    return ()


def _said(label: str, reading: Reading | None) -> tuple[Line, ...]:
    if reading is None:
        return ()
    if reading.standing:
        return (Line(label, "", reading.words, reading.standing, is_wide=True),)
    return (Line(label, reading.words, is_wide=True),)


def open_count(build: Build) -> int:
    """How many findings of a build wait for a decision."""
    return sum(finding.is_open for finding in build.findings)


def state_words(build: Build) -> str:
    """How far a build has come, in a few words."""
    if waiting := open_count(build):
        return f"{plural(waiting, 'finding')} {'needs' if waiting == 1 else 'need'} a decision"
    if build.is_released:
        return "released"
    if build.photos:
        return "demoulded, nothing open"
    known = build.known
    reached = [stage for stage in Stage if any(f.name in known for f in of_stage(stage))]
    return f"in progress, last noted: {reached[-1].value}" if reached else "nothing noted yet"


def count_words(build: Build) -> str:
    """How many photos and findings a build has."""
    photos, findings = len(build.photos), len(build.findings)
    return ", ".join(
        (
            plural(photos, "photo") if photos else "no photos",
            plural(findings, "finding") if findings else "no findings",
        )
    )


def void_words(made: Measurement) -> tuple[str, str]:
    """A void measurement: the share with its unit, and its interval, count and largest void."""
    words = measurement_words(made)
    names = ("interval_words", "count_words", "largest_words")
    told = ", ".join(words[name] for name in names if words[name])
    if words["shows_bench"]:
        told += "; the bench may be in it, outline the part and measure again"
    return words["void_pct_words"], told
