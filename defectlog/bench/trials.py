"""Run a trial: write it down, start its panels in their order, follow them, say what it showed."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts, start_build
from defectlog.bench.kinds import find_kind
from defectlog.bench.parts import find_part, one_line
from defectlog.bench.trial_plan import MOST_PANELS
from defectlog.bench.trial_results import values_of
from defectlog.bench.trial_words import (
    Contrast,
    asides,
    beside,
    contrasts,
    panels_of,
    verdict_sentences,
)
from defectlog.charts.plan import run_order
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.facts import FACTS
from defectlog.records import Build, Trial, TrialLook, TrialResult, TrialRun, TrialState

LONGEST_QUESTION = 200  # characters
LEAST_SETTINGS, MOST_SETTINGS = 2, 4
_SEEDS = 1_000_000


class TrialOverError(DefectlogError):
    """A trial that was decided or stopped takes nothing more."""

    def __init__(self, trial: Trial) -> None:
        super().__init__(
            f"Trial {trial.id} is {trial.state.value} already", "plan a new one to ask again"
        )


class TrialNotInError(DefectlogError):
    """The verdict is given once, when every panel is in or lost."""

    def __init__(self, trial: Trial, waiting: int) -> None:
        super().__init__(
            f"Trial {trial.id} still waits for {waiting} of {len(trial.runs)} panels",
            "make them, or write down why one is lost; until then you may only look early",
        )


@dataclass(frozen=True, slots=True)
class TrialPlan:
    """What a person enters of a trial.

    The first of ``settings`` is the one the others are compared with; all are as
    ``facts.read_fact`` types them. ``smallest_difference`` is in the unit the result is kept in:
    a fraction for voids.
    """

    part_id: int
    question: str
    fact: str
    settings: tuple[Any, ...]
    result: TrialResult
    smallest_difference: float
    per_setting: int
    by_day: bool = False
    kind: str | None = None
    planned_words: str = ""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a trial has come. ``values`` are by number of the build, of its own panels only."""

    values: Mapping[int, float]
    next_run: TrialRun | None
    waiting: int
    lost: int

    @property
    def is_complete(self) -> bool:
        return self.waiting == 0


@dataclass(frozen=True, slots=True)
class Showing:
    """What the panels show: at the verdict, or at an early look."""

    sentences: tuple[str, ...]
    asides: tuple[str, ...]
    beside: tuple[str, ...]
    groups: tuple[tuple[float, ...], ...]


def find_trial(session: Session, number: int) -> Trial:
    """The trial of that number."""
    trial = session.get(Trial, number)
    if trial is None:
        raise NotFoundError("trial", number)
    return trial


def list_trials(session: Session) -> list[Trial]:
    """The trials, running ones first, then newest first."""
    trials = session.scalars(select(Trial).order_by(Trial.id.desc()))
    return sorted(trials, key=lambda trial: not trial.is_running)


def plan_trial(
    session: Session, plan: TrialPlan, *, at: datetime, seed: int | None = None
) -> Trial:
    """Write a trial down with its panels in their random order.

    The order is shuffled in rounds, one panel of every setting in each; ``seed`` is kept, so that
    anybody can see the order was not chosen.

    Raises
    ------
    FormError
        If something of the plan is missing or cannot be.
    """
    part = find_part(session, plan.part_id)
    question = one_line(plan.question)
    faults = [*_faults(session, plan, question)]
    if faults:
        raise FormError(faults)
    trial = Trial(
        part=part,
        question=question,
        fact=plan.fact,
        settings=list(plan.settings),
        result=plan.result,
        kind=plan.kind if plan.result is TrialResult.FINDINGS else None,
        smallest_difference=plan.smallest_difference,
        per_setting=plan.per_setting,
        seed=secrets.randbelow(_SEEDS) if seed is None else seed,
        by_day=plan.by_day,
        planned_words=plan.planned_words,
        planned_at=at,
        state=TrialState.RUNNING,
    )
    places = [str(place) for place in range(len(plan.settings))]
    order = run_order(places, plan.per_setting, random_state=trial.seed)
    for index, place in enumerate(order):
        block = index // len(places) + 1
        trial.runs.append(TrialRun(number=index + 1, setting=int(place), block=block))
    session.add(trial)
    session.flush()
    return trial


def _faults(session: Session, plan: TrialPlan, question: str):
    if not question:
        yield FieldError("question", "The trial asks nothing yet", "write the question in a line")
    elif len(question) > LONGEST_QUESTION:
        yield FieldError(
            "question", f"The question is longer than {LONGEST_QUESTION} characters", "shorten it"
        )
    fact = FACTS.get(plan.fact)
    if fact is None or fact.kind == "plies":
        yield FieldError("fact", "Nothing to vary is chosen", "choose one build fact")
    distinct = {repr(setting) for setting in plan.settings}
    if not LEAST_SETTINGS <= len(plan.settings) <= MOST_SETTINGS:
        yield FieldError(
            "setting-1", "A trial compares two to four settings", "give two, or a few more"
        )
    elif len(distinct) < len(plan.settings):
        yield FieldError("setting-2", "One setting stands twice", "make them different")
    if plan.result is TrialResult.FINDINGS:
        try:
            find_kind(session, plan.kind or "")
        except NotFoundError:
            yield FieldError("kind", "No kind of finding is chosen", "choose which to count")
    if not plan.smallest_difference > 0:
        yield FieldError(
            "difference", "The difference that matters is not above 0", "give the smallest"
        )
    if not 2 <= plan.per_setting <= MOST_PANELS:
        yield FieldError(
            "panels",
            f"{plan.per_setting} panels of each setting are no trial",
            f"make 2 to {MOST_PANELS}: one alone says nothing of how panels vary",
        )


def _running(session: Session, number: int) -> Trial:
    trial = find_trial(session, number)
    if not trial.is_running:
        raise TrialOverError(trial)
    return trial


def _run(trial: Trial, number: int) -> TrialRun:
    run = next((run for run in trial.runs if run.number == number), None)
    if run is None:
        raise NotFoundError(f"panel of trial {trial.id} with the number", number)
    return run


def start_run(session: Session, number: int, panel: int, *, at: datetime) -> Build:
    """Start the build of one panel, its setting written down; a panel started before stays."""
    trial = find_trial(session, number)
    run = _run(trial, panel)
    if run.build is not None:
        return run.build
    if not trial.is_running or run.is_lost:
        raise TrialOverError(trial)
    run.build = start_build(session, trial.part_id, at)
    save_facts(session, run.build.id, {trial.fact: run.value}, at)
    return run.build


def lose_run(session: Session, number: int, panel: int, *, reason: str) -> TrialRun:
    """Say that a panel cannot be judged and why; an empty reason takes it back."""
    run = _run(_running(session, number), panel)
    reason = reason.strip()
    if not reason and not run.is_lost:
        raise FormError(
            [FieldError("reason", "A panel is lost for a reason", "write what happened to it")]
        )
    run.lost_reason = reason[:300]
    session.flush()
    return run


def progress(session: Session, trial: Trial) -> Progress:
    """Which panels are in, which is next, how many are still waited for."""
    own = {run.build_id for run in trial.runs if run.build_id and not run.is_lost}
    values = values_of(session, trial.part_id, trial.result, trial.kind)
    values = {number: value for number, value in values.items() if number in own}
    alive = [run for run in trial.runs if not run.is_lost]
    return Progress(
        values=values,
        next_run=next((run for run in alive if run.build_id is None), None)
        if trial.is_running
        else None,
        waiting=sum(run.build_id not in values for run in alive),
        lost=len(trial.runs) - len(alive),
    )


def may_see(trial: Trial, come: Progress) -> bool:
    """Whether the values may be shown without that being one more early look."""
    if not trial.is_running:
        return True
    return bool(trial.looks) and trial.looks[-1].panels_in == len(come.values)


def look_early(session: Session, number: int, *, at: datetime) -> Trial:
    """Note that somebody looks at the values now; looking again at the same panels is no new look.

    Looking is allowed. It is noted because every look is a chance to stop at a lucky moment.
    """
    trial = _running(session, number)
    come = progress(session, trial)
    if not may_see(trial, come):
        trial.looks.append(TrialLook(at=at, panels_in=len(come.values)))
        session.flush()
    return trial


def decide_trial(session: Session, number: int, *, at: datetime) -> Trial:
    """Give the verdict, once: its words and values are kept and not worked out anew.

    Raises
    ------
    TrialNotInError
        If a panel is neither in nor lost.
    """
    trial = _running(session, number)
    come = progress(session, trial)
    if not come.is_complete:
        raise TrialNotInError(trial, come.waiting)
    shown = _work_out(session, trial, come)
    trial.verdict = {
        "sentences": list(shown.sentences),
        "asides": list(shown.asides),
        "beside": list(shown.beside),
        "groups": [list(group) for group in shown.groups],
        "values": {str(build): value for build, value in come.values.items()},
    }
    trial.state, trial.decided_at = TrialState.DECIDED, at
    session.flush()
    return trial


def stop_trial(session: Session, number: int, *, reason: str) -> Trial:
    """End a trial without a verdict, and keep why."""
    trial = _running(session, number)
    reason = reason.strip()
    if not reason:
        raise FormError(
            [FieldError("stopped", "A trial is stopped for a reason", "write it down for later")]
        )
    trial.state, trial.stopped_reason = TrialState.STOPPED, reason[:300]
    session.flush()
    return trial


def showing(session: Session, trial: Trial, come: Progress) -> Showing | None:
    """What there is to see: the verdict as it was given, an early look, or nothing yet."""
    if trial.verdict is not None:
        kept = trial.verdict
        return Showing(
            tuple(kept["sentences"]),
            tuple(kept["asides"]),
            tuple(kept["beside"]),
            tuple(tuple(group) for group in kept["groups"]),
        )
    return _work_out(session, trial, come) if may_see(trial, come) and come.values else None


def _work_out(session: Session, trial: Trial, come: Progress) -> Showing:
    found: tuple[Contrast | None, ...] = contrasts(trial, come.values)
    cost: list[str] = []
    for other in (TrialResult.MASS, TrialResult.EFFORT):
        if other is not trial.result:
            cost += beside(trial, other, values_of(session, trial.part_id, other))
    return Showing(
        sentences=tuple(verdict_sentences(trial, found)),
        asides=tuple(asides(trial, found)),
        beside=tuple(cost),
        groups=tuple(
            tuple(panels_of(trial, come.values, setting).values())
            for setting in range(len(trial.settings))
        ),
    )
