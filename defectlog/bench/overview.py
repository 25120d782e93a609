"""What lies on the bench: builds in progress, findings to decide, trials to go on with, lessons."""

from dataclasses import dataclass

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from defectlog.bench.findings import list_findings
from defectlog.bench.lessons import lessons_for
from defectlog.bench.trial_words import next_words
from defectlog.bench.trials import list_trials, progress
from defectlog.records import Build, Finding, Lesson, Part, Trial


@dataclass(frozen=True, slots=True)
class Overview:
    """The start page: what is in progress and what needs a decision.

    ``trials`` are the running ones, each with the words for what it asks for next.
    """

    in_progress: list[Build]
    to_decide: list[Finding]
    lessons_due: list[tuple[Build, list[Lesson]]]
    trials: list[tuple[Trial, str]]
    has_parts: bool
    has_builds: bool


def overview(session: Session) -> Overview:
    """Look over the bench, newest first."""
    in_progress = list(
        session.scalars(select(Build).where(Build.released_at.is_(None)).order_by(Build.id.desc()))
    )
    waiting = [
        (build, [lesson for lesson, use in lessons_for(session, build) if use is None])
        for build in in_progress
    ]
    due = [(build, lessons) for build, lessons in waiting if lessons]
    return Overview(
        in_progress=in_progress,
        to_decide=list_findings(session, only_open=True),
        lessons_due=due,
        trials=[
            (trial, next_words(trial, progress(session, trial)))
            for trial in list_trials(session)
            if trial.is_running
        ],
        has_parts=bool(session.scalar(select(exists().where(Part.id.is_not(None))))),
        has_builds=bool(session.scalar(select(exists().where(Build.id.is_not(None))))),
    )
