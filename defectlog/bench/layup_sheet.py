"""The lay-up sheet a build starts from: plies, materials, planned resin, lessons to apply."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.builds import find_build
from defectlog.bench.lessons import lessons_for
from defectlog.bench.same_again import given_by_trial, proposal, settings_of
from defectlog.bench.trial_words import panel_words
from defectlog.facts import Stage
from defectlog.laminate.earlier import expected_next
from defectlog.laminate.resin import overage
from defectlog.records import Build
from defectlog.units import NBSP, figure, plural, with_unit

MOST_EARLIER = 12  # builds; older ones say little about how resin is mixed today


@dataclass(frozen=True, slots=True)
class LayupSheet:
    """What stands on the sheet. ``taken_from`` are the builds that settings were taken from, for
    the stages of which this build itself says nothing yet."""

    build: Build
    settings: Mapping[str, Any]
    taken_from: tuple[int, ...]
    resin: str
    lessons: tuple[str, ...]
    trial: str = ""


def layup_sheet(session: Session, number: int) -> LayupSheet:
    """Draw up the sheet of a build from its own facts, stage by stage else as last time."""
    build = find_build(session, number)
    tried = {name: build.known[name] for name in given_by_trial(build) & build.known.keys()}
    settings = settings_of(build) | tried
    offered = [found for stage in Stage if (found := proposal(session, build, stage))]
    for found in offered:
        settings |= found.facts
    return LayupSheet(
        build=build,
        settings=settings,
        taken_from=tuple(sorted({found.number for found in offered})),
        resin=_resin_words(session, build, settings),
        # One that was skipped on this very build is not asked for again.
        lessons=tuple(
            lesson.words
            for lesson, use in lessons_for(session, build)
            if use is None or use.is_applied
        ),
        trial=panel_words(build),
    )


def _resin_words(session: Session, build: Build, settings: Mapping[str, Any]) -> str:
    planned = settings.get("resin_planned_g")
    if not planned:
        return "No resin is planned yet: enter it with the facts of the resin."
    words = f"Resin planned: {with_unit(planned, 'g', 4)}."
    learnt = expected_next(earlier_overages(session, build, settings.get("process")))
    if learnt is None:
        return words
    top = planned * (1 + max(0.0, learnt.high))
    return (
        f"{words} The last {plural(learnt.number, 'build')} of this part needed "
        f"{_more_or_less(learnt.mean)}; nineteen times in twenty the next needs between "
        f"{_more_or_less(learnt.low)} and {_more_or_less(learnt.high)}. "
        f"{with_unit(top, 'g', 3)} mixed would cover that."
    )


def _more_or_less(fraction: float) -> str:
    return f"{figure(100 * abs(fraction), 2)}{NBSP}% {'more' if fraction >= 0 else 'less'}"


def earlier_overages(session: Session, build: Build, process: str | None) -> list[float]:
    """What earlier builds of the part needed on top of their plan, as fractions, newest first.

    Only builds made by the same process count, as far as both processes are known.
    """
    earlier = session.scalars(
        select(Build)
        .where(Build.part_id == build.part_id, Build.id < build.id)
        .order_by(Build.id.desc())
    )
    found = []
    for one in earlier:
        known = one.known
        planned, mixed, left = (
            known.get(f"resin_{word}_g") for word in ("planned", "mixed", "left")
        )
        if not planned or not mixed or left is None or left > mixed:
            continue
        if process and known.get("process") not in (None, process):
            continue
        found.append(overage(planned, mixed, left))
        if len(found) == MOST_EARLIER:
            break
    return found
