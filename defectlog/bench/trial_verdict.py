"""What a trial showed: its verdict, given once and kept as given, or an early look."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.trial_contrasts import Contrast, contrasts
from defectlog.bench.trial_results import MEASURES, measure_on, panel_values
from defectlog.bench.trial_words import asides, beside, setting_words, verdict_sentences
from defectlog.bench.trials import Progress, may_see, progress, running_trial
from defectlog.errors import DefectlogError
from defectlog.records import Trial, TrialResult, TrialState


class TrialNotInError(DefectlogError):
    """The verdict is given once, when every panel is in or lost."""

    def __init__(self, trial: Trial, waiting: int) -> None:
        super().__init__(
            f"Trial {trial.id} still waits for {waiting} of {len(trial.runs)} panels",
            "make them, or write down why one is lost; until then you may only look early",
        )


@dataclass(frozen=True, slots=True)
class PanelValue:
    """One panel that is in: its number in the trial, its build, and what it came to."""

    panel: int
    build: int
    value: float


@dataclass(frozen=True, slots=True)
class Showing:
    """What the panels show: at the verdict, or at an early look. ``groups`` are by setting."""

    sentences: tuple[str, ...]
    asides: tuple[str, ...]
    beside: tuple[str, ...]
    groups: tuple[tuple[PanelValue, ...], ...]


def decide_trial(session: Session, number: int, *, at: datetime) -> Trial:
    """Give the verdict, once: its words and values are kept and not worked out anew.

    Raises
    ------
    TrialNotInError
        If a panel is neither in nor lost.
    """
    trial = running_trial(session, number)
    come = progress(session, trial)
    if not come.is_complete:
        raise TrialNotInError(trial, come.waiting)
    shown = _work_out(session, trial, come)
    trial.verdict = {
        "sentences": list(shown.sentences),
        "asides": list(shown.asides),
        "beside": list(shown.beside),
        "groups": [[panel.value for panel in group] for group in shown.groups],
        "values": {str(build): value for build, value in come.values.items()},
    }
    trial.state, trial.decided_at = TrialState.DECIDED, at
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
            _groups(trial, {int(build): value for build, value in kept["values"].items()}),
        )
    return _work_out(session, trial, come) if may_see(trial, come) and come.values else None


def _work_out(session: Session, trial: Trial, come: Progress) -> Showing:
    found: tuple[Contrast | None, ...] = contrasts(trial, trial.result, come.panels)
    cost: list[str] = []
    own = [run.build_id for run in trial.runs if run.build_id]
    for other in (TrialResult.MASS, TrialResult.EFFORT):
        if other is not trial.result:
            panels = panel_values(session, trial.part_id, other, builds=own)
            cost += beside(trial, other, panels)
    return Showing(
        sentences=tuple(verdict_sentences(trial, found)),
        asides=tuple(asides(trial, found)),
        beside=tuple(cost),
        groups=_groups(trial, come.values),
    )


def _groups(trial: Trial, values: Mapping[int, float]) -> tuple[tuple[PanelValue, ...], ...]:
    return tuple(
        tuple(
            PanelValue(run.number, run.build_id, values[run.build_id])
            for run in trial.runs
            if run.setting == setting and not run.is_lost and run.build_id in values
        )
        for setting in range(len(trial.settings))
    )


def trial_table(trial: Trial, shown: Showing | None) -> list[list[object]]:
    """The numbers behind the picture, a heading row first; fractions 0–1, else as the unit says.

    Every panel has its row. Values stand there only where they may be seen.
    """
    unit = "fraction" if trial.result is TrialResult.VOIDS else MEASURES[trial.result].unit
    judged = measure_on(trial.result, trial.surface).title
    judged += f" ({trial.kind})" if trial.kind else ""
    values = {one.panel: one.value for group in shown.groups for one in group} if shown else {}
    heading = "panel day setting build result unit value lost_because".split()
    rows: list[list[object]] = [list(heading)]
    for run in trial.runs:
        rows.append(
            [
                run.number,
                run.block if trial.by_day else None,
                setting_words(trial, run.setting),
                run.build_id,
                judged,
                unit,
                values.get(run.number),
                run.lost_reason,
            ]
        )
    return rows
