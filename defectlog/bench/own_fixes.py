"""Fixes of the shop's own, under kinds of the guide and its own kinds."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind
from defectlog.bench.own_rows import open_own, stand, title_taken
from defectlog.bench.own_words import (
    own_key,
    text_faults,
    tidy,
    title_faults,
)
from defectlog.bench.parts import one_line
from defectlog.errors import FieldError, FormError
from defectlog.guide.entry import Caution, Kind
from defectlog.guide.library import shared
from defectlog.guide.own import OwnStep, not_chosen
from defectlog.guide.schema import OUTCOMES
from defectlog.records import OwnFix

LONGEST_TITLE = 80
LONGEST_TIME = 80
MOST_STEPS = 12

# What the shop makes of the part by it, in words for the form.
OUTCOME_WORDS: Mapping[str, str] = {
    "rework": "Rework: as the drawing has it",
    "repair": "Repair: fit for use, and seen",
    "hold": "Hold: nothing is covered yet",
}


@dataclass(frozen=True, slots=True)
class OwnFixPlan:
    """What a person enters of a fix. Lines of ``not_when`` and ``reinspect`` are one each."""

    title: str
    outcome: str
    steps: tuple[OwnStep, ...]
    not_when: str
    reinspect: str = ""
    time: str = ""


def cautions_to_choose() -> tuple[Caution, ...]:
    """The guide's cautions, in its order."""
    return tuple(shared().cautions.values())


def save_own_fix(
    session: Session,
    kind: str,
    plan: OwnFixPlan,
    *,
    at: datetime,
    key: str | None = None,
    opened_on: str = "",
) -> OwnFix:
    """Write a new fix down under a kind, or change the one of that key.

    One that was deleted comes back with its new words.

    Raises
    ------
    FormError
        If something is missing or too long, the kind has such a fix, or a step names a hazard
        and its caution was not chosen.
    NotOursError
        If the fix came from another shop.
    ChangedMeanwhileError
        If it is not as the form was opened on (``own_words.state_of``).
    """
    entry = find_kind(session, kind)
    row = None if key is None else open_own(session, OwnFix, kind, key, opened_on)
    faults = list(_faults(entry, plan, key))
    if faults:
        raise FormError(faults)
    if row is None:
        row = OwnFix(kind=kind, key=own_key(plan.title), written_at=at)
        session.add(row)
    row.title, row.outcome, row.time = one_line(plan.title), plan.outcome, one_line(plan.time)
    row.steps = [{"do": tidy(step.do), "cautions": list(step.cautions)} for step in plan.steps]
    row.not_when, row.reinspect = _lines(plan.not_when), _lines(plan.reinspect)
    return stand(session, row)


def _lines(text: str) -> str:
    """Lines without blank ones among them."""
    return "\n".join(filter(None, (line.strip() for line in tidy(text).splitlines())))


def _faults(entry: Kind, plan: OwnFixPlan, key: str | None) -> Iterator[FieldError]:
    yield from title_faults("title", "name of the fix", plan.title, LONGEST_TITLE)
    yield from title_taken(plan.title, entry.fixes, key, f"{entry.title} has that fix already")
    if plan.outcome not in OUTCOMES:
        yield FieldError("outcome", "What comes of it is missing", "choose one")
    needed = "say at least one case in which this would hide or worsen it"
    yield from text_faults("not_when", "line on when not to", plan.not_when, needed=needed)
    yield from text_faults("reinspect", "way to look again", plan.reinspect)
    if len(one_line(plan.time)) > LONGEST_TIME:
        yield FieldError("time", f"The time is longer than {LONGEST_TIME} characters", "shorten it")
    if not plan.steps:
        yield FieldError("step-1", "There is no step yet", "say what is done first")
    if len(plan.steps) > MOST_STEPS:
        what = f"There are more than {MOST_STEPS} steps"
        yield FieldError(f"step-{MOST_STEPS}", what, "put some together")
    for number, step in enumerate(plan.steps, 1):
        yield from _step_faults(number, step)


def _step_faults(number: int, step: OwnStep) -> Iterator[FieldError]:
    field = f"step-{number}"
    yield from text_faults(field, f"step {number}", step.do, needed="say what is done")
    if any(key not in shared().cautions for key in step.cautions):
        yield FieldError(field, "A caution is not one of the guide's", "choose among those shown")
    called = tuple(not_chosen(step))
    if called:
        words = " and ".join(f"“{word.removesuffix('*')}” in step {number}" for _, word in called)
        titles = " and ".join(f"“{caution.title}”" for caution, _ in called)
        what = f"{words} can hurt somebody, and nothing says so yet"
        yield FieldError(field, what, f"tick {titles} under the step, or say it otherwise")
