"""Run a trial: start its panels in their order, follow them, note early looks and losses."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts, start_build
from defectlog.bench.results import BuildValue
from defectlog.bench.trial_results import panel_values
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.records import Build, Trial, TrialLook, TrialRun, TrialState


class TrialOverError(DefectlogError):
    """A trial that was decided or stopped takes nothing more."""

    def __init__(self, trial: Trial) -> None:
        super().__init__(
            f"Trial {trial.id} is {trial.state.value} already", "plan a new one to ask again"
        )


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a trial has come. ``panels`` are by number of the build, of its own panels only."""

    panels: Mapping[int, BuildValue]
    next_run: TrialRun | None
    waiting: int
    lost: int

    @property
    def values(self) -> dict[int, float]:
        """What every panel came to, by number of the build."""
        return {number: one.value for number, one in self.panels.items()}

    @property
    def is_complete(self) -> bool:
        return self.waiting == 0


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


def running_trial(session: Session, number: int) -> Trial:
    """The trial of that number, as long as it takes anything more."""
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
    run = _run(running_trial(session, number), panel)
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
    panels = panel_values(
        session, trial.part_id, trial.result, trial.kind, surface=trial.surface, builds=own
    )
    alive = [run for run in trial.runs if not run.is_lost]
    return Progress(
        panels=panels,
        next_run=next((run for run in alive if run.build_id is None), None)
        if trial.is_running
        else None,
        waiting=sum(run.build_id not in panels for run in alive),
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
    trial = running_trial(session, number)
    come = progress(session, trial)
    if not may_see(trial, come):
        trial.looks.append(TrialLook(at=at, panels_in=len(come.values)))
        session.flush()
    return trial


def stop_trial(session: Session, number: int, *, reason: str) -> Trial:
    """End a trial without a verdict, and keep why."""
    trial = running_trial(session, number)
    reason = reason.strip()
    if not reason:
        raise FormError(
            [FieldError("stopped", "A trial is stopped for a reason", "write it down for later")]
        )
    trial.state, trial.stopped_reason = TrialState.STOPPED, reason[:300]
    session.flush()
    return trial
