"""Fixes of the shop's own on screen: step by step, what can hurt ticked under each."""

from collections.abc import Mapping
from datetime import UTC, datetime

from flask import Blueprint, flash, render_template, request
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind, steps_of
from defectlog.bench.own_fixes import (
    MOST_STEPS,
    OUTCOME_WORDS,
    OwnFixPlan,
    cautions_to_choose,
    save_own_fix,
)
from defectlog.bench.own_rows import find_own
from defectlog.guide.own import OwnStep
from defectlog.records import OwnFix
from defectlog.web.own_forms import (
    back_to,
    delete_and_say,
    opened,
    restore_and_say,
    saved_or,
    standing,
)
from defectlog.web.records import reading

bp = Blueprint("own_fixes", __name__, url_prefix="/guide")

_TEXTS = ("title", "outcome", "not_when", "reinspect", "time")
_MORE = "more"  # the button that asks for room for another step
_ROOM = 3


@bp.get("/<key>/fixes/new")
def new(key: str) -> ResponseReturnValue:
    """The form of a new fix under a kind."""
    return _form(key, None, {}, (), {}, "")


@bp.post("/<key>/fixes/new")
def create(key: str) -> ResponseReturnValue:
    """Write a new fix down under a kind."""
    return _save(key, None)


@bp.get("/<key>/fixes/<fix>/edit")
def edit(key: str, fix: str) -> ResponseReturnValue:
    """The form of an own fix."""
    row = find_own(reading(), OwnFix, key, fix)
    typed = {name: getattr(row, name) for name in _TEXTS}
    return _form(key, fix, typed, tuple(steps_of(row)), {}, "")


@bp.post("/<key>/fixes/<fix>/edit")
def change(key: str, fix: str) -> ResponseReturnValue:
    """Change an own fix."""
    return _save(key, fix)


@bp.post("/<key>/fixes/<fix>/delete")
def delete(key: str, fix: str) -> ResponseReturnValue:
    """Take an own fix off the page."""
    return delete_and_say(OwnFix, key, fix, place="fix", among="fixes")


@bp.post("/<key>/fixes/<fix>/restore")
def restore(key: str, fix: str) -> ResponseReturnValue:
    """Bring an own fix back."""
    return restore_and_say(OwnFix, key, fix, place=f"fix-{fix}")


def _save(kind: str, key: str | None) -> ResponseReturnValue:
    if _MORE in request.form:
        return _form(kind, key, request.form, _typed_steps(), {}, opened(), more=True)

    def save(session: Session) -> str:
        texts = {name: request.form.get(name, "") for name in _TEXTS}
        plan = OwnFixPlan(**texts, steps=_typed_steps())
        row = save_own_fix(session, kind, plan, at=datetime.now(UTC), key=key, opened_on=opened())
        flash(f"“{row.title}” is saved. It stands with the other fixes.")
        return back_to(kind, f"fix-{row.key}")

    return saved_or(
        lambda typed, errors, opened_on: _form(kind, key, typed, _typed_steps(), errors, opened_on),
        save,
    )


def _typed_steps() -> tuple[OwnStep, ...]:
    """The steps with something typed or ticked, in order; gaps between them close."""
    numbers = range(1, MOST_STEPS + 1)
    steps = (
        OwnStep(request.form.get(f"step-{n}", ""), tuple(request.form.getlist(f"cautions-{n}")))
        for n in numbers
    )
    return tuple(step for step in steps if step.do.strip() or step.cautions)


def _form(
    kind: str,
    key: str | None,
    typed: Mapping[str, str],
    steps: tuple[OwnStep, ...],
    errors: Mapping[str, str],
    opened_on: str,
    *,
    more: bool = False,
) -> str:
    session = reading()
    row = None if key is None else find_own(session, OwnFix, kind, key)
    room = min(MOST_STEPS, max(_ROOM, len(steps) + (2 if more else 1)))
    return render_template(
        "guide/own_fix.html",
        kind=find_kind(session, kind),
        kept=row,
        typed=typed,
        steps=(*steps, *(OwnStep(""),) * (room - len(steps))),
        most_steps=MOST_STEPS,
        outcomes=tuple(OUTCOME_WORDS.items()),
        cautions=cautions_to_choose(),
        **standing(row, errors, opened_on),
    )
