"""Deal a trial: the plan is checked and written down, its panels get their random order."""

import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.fact_columns import CONDITIONS
from defectlog.bench.kinds import find_kind
from defectlog.bench.parts import find_part, one_line
from defectlog.bench.trial_plan import MOST_PANELS
from defectlog.bench.trial_results import JUDGED, TOOL_AT_DEMOULD
from defectlog.charts.plan import run_order
from defectlog.errors import FieldError, FormError, NotFoundError
from defectlog.facts import FACTS
from defectlog.records import Trial, TrialResult, TrialRun, TrialState

LONGEST_QUESTION = 200  # characters
LEAST_SETTINGS, MOST_SETTINGS = 2, 4
_SEEDS = 1_000_000
# Whatever a build is made under. Plies are no column to rank by, but the lay-up can be varied.
TO_VARY = tuple(name for name in FACTS if name in CONDITIONS or FACTS[name].kind == "plies")


@dataclass(frozen=True, slots=True)
class TrialPlan:
    """What a person enters of a trial.

    The first of ``settings`` is the one the others are compared with; all are as
    ``facts.read_fact`` types them. ``smallest_difference`` is in the unit the result is kept in:
    a fraction for voids. ``kind`` is which findings count, None for all of them, ``surface`` the
    key of the one that is measured.
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
    surface: str = TOOL_AT_DEMOULD.key
    planned_words: str = ""


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
        surface=plan.surface,
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


def _faults(session: Session, plan: TrialPlan, question: str) -> Iterator[FieldError]:
    if not question:
        yield FieldError("question", "The trial asks nothing yet", "write the question in a line")
    elif len(question) > LONGEST_QUESTION:
        yield FieldError(
            "question", f"The question is longer than {LONGEST_QUESTION} characters", "shorten it"
        )
    if plan.fact not in TO_VARY:
        yield FieldError("fact", "Nothing to vary is chosen", "choose one build fact")
    distinct = {repr(setting) for setting in plan.settings}
    if not LEAST_SETTINGS <= len(plan.settings) <= MOST_SETTINGS:
        yield FieldError(
            "setting-1", "A trial compares two to four settings", "give two, or a few more"
        )
    elif len(distinct) < len(plan.settings):
        yield FieldError("setting-2", "One setting stands twice", "make them different")
    if plan.result is TrialResult.FINDINGS and plan.kind:
        try:
            find_kind(session, plan.kind)
        except NotFoundError:
            yield FieldError("kind", "No kind of finding is chosen", "choose which to count")
    if plan.surface not in JUDGED:
        yield FieldError("surface", "There is no such surface", "choose one of the list")
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
