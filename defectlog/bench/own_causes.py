"""Causes of the shop's own, under kinds of the guide and its own kinds."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind
from defectlog.bench.own_rows import open_own, stand, title_taken
from defectlog.bench.own_words import (
    MOST_MINUTES,
    own_key,
    text_faults,
    tidy,
    title_faults,
)
from defectlog.bench.parts import one_line
from defectlog.errors import FieldError, FormError
from defectlog.guide.entry import Kind
from defectlog.records import OwnCause

LONGEST_TITLE = 80


@dataclass(frozen=True, slots=True)
class OwnCausePlan:
    """What a person enters of a cause. The check may be left out, else it is given whole."""

    title: str
    why: str = ""
    check_do: str = ""
    check_positive: str = ""
    check_minutes: float | None = None
    prevention: str = ""


def save_own_cause(
    session: Session,
    kind: str,
    plan: OwnCausePlan,
    *,
    at: datetime,
    key: str | None = None,
    opened_on: str = "",
) -> OwnCause:
    """Write a new cause down under a kind, or change the one of that key.

    One that was deleted comes back with its new words.

    Raises
    ------
    FormError
        If something is missing, too long or out of range, or the kind has such a cause.
    NotOursError
        If the cause came from another shop.
    ChangedMeanwhileError
        If it is not as the form was opened on (``own_words.state_of``).
    """
    entry = find_kind(session, kind)
    row = None if key is None else open_own(session, OwnCause, kind, key, opened_on)
    faults = list(_faults(entry, plan, key))
    if faults:
        raise FormError(faults)
    if row is None:
        row = OwnCause(kind=kind, key=own_key(plan.title), written_at=at)
        session.add(row)
    row.title = one_line(plan.title)
    row.why, row.prevention = tidy(plan.why), tidy(plan.prevention)
    row.check_do, row.check_positive = tidy(plan.check_do), tidy(plan.check_positive)
    row.check_minutes = plan.check_minutes
    return stand(session, row)


def _faults(entry: Kind, plan: OwnCausePlan, key: str | None) -> Iterator[FieldError]:
    yield from title_faults("title", "cause", plan.title, LONGEST_TITLE)
    yield from title_taken(plan.title, entry.causes, key, f"{entry.title} has that cause already")
    yield from text_faults("why", "explanation", plan.why)
    yield from text_faults("prevention", "prevention", plan.prevention)
    if not (tidy(plan.check_do) or tidy(plan.check_positive) or plan.check_minutes is not None):
        return
    needed = "say what to do, or leave the whole check out"
    yield from text_faults("check_do", "check", plan.check_do, needed=needed)
    needed = "say what is seen if this is the cause"
    yield from text_faults(
        "check_positive", "result of the check", plan.check_positive, needed=needed
    )
    if plan.check_minutes is None:
        yield FieldError("check_minutes", "The time of the check is missing", "enter its minutes")
    elif not 0 < plan.check_minutes <= MOST_MINUTES:
        yield FieldError(
            "check_minutes",
            "The time is out of range",
            f"enter minutes, above 0, to {MOST_MINUTES}",
        )
