"""The shop's own knowledge on screen: its kinds, its causes, its house notes."""

from collections.abc import Mapping
from datetime import UTC, datetime

from flask import Blueprint, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.house_notes import (
    add_note,
    delete_note,
    edit_note,
    find_note,
    restore_note,
)
from defectlog.bench.kinds import find_kind
from defectlog.bench.own_causes import OwnCausePlan, save_own_cause
from defectlog.bench.own_kinds import OwnKindPlan, find_own_kind, remove_own_kind, save_own_kind
from defectlog.bench.own_rows import find_own
from defectlog.guide import library
from defectlog.guide.signs import KeyData
from defectlog.records import OwnCause
from defectlog.units import figure, read_number
from defectlog.web.guide import kind_page
from defectlog.web.once import save_once
from defectlog.web.own_forms import (
    back_to,
    delete_and_say,
    opened,
    restore_and_say,
    saved_or,
    standing,
)
from defectlog.web.records import reading

bp = Blueprint("own", __name__, url_prefix="/guide")

_KIND_TEXTS = ("title", "code", "look", "definition")
ANSWERS = "answers"  # boxes of the key's answers, each of the value "question:answer"
_CAUSE_TEXTS = ("title", "why", "check_do", "check_positive", "prevention")


@bp.get("/own/new")
def new_kind() -> ResponseReturnValue:
    """The form of a new kind."""
    return _kind_form(None, {}, {}, "")


@bp.post("/own/new")
def create_kind() -> ResponseReturnValue:
    """Write a new kind down."""
    return _save_kind(None)


@bp.get("/<key>/edit")
def edit_kind(key: str) -> ResponseReturnValue:
    """The form of an own kind."""
    row = find_own_kind(reading(), key)
    return _kind_form(key, {name: getattr(row, name) for name in _KIND_TEXTS}, {}, "")


@bp.post("/<key>/edit")
def change_kind(key: str) -> ResponseReturnValue:
    """Change an own kind."""
    return _save_kind(key)


@bp.post("/<key>/remove")
def remove_kind(key: str) -> ResponseReturnValue:
    """Remove an own kind that nothing is of."""

    def save(session: Session) -> str:
        flash(f"{remove_own_kind(session, key)} is removed.")
        return url_for("guide.index")

    return save_once(save)


def _save_kind(key: str | None) -> ResponseReturnValue:
    def save(session: Session) -> str:
        texts = {name: request.form.get(name, "") for name in _KIND_TEXTS}
        plan = OwnKindPlan(**texts, answers=_ticked(library.key_data()))
        row = save_own_kind(session, plan, at=datetime.now(UTC), key=key, opened_on=opened())
        flash(f"{row.title} is saved. It can be marked on photos now.")
        return url_for("guide.show", key=row.key)

    return saved_or(
        lambda typed, errors, opened_on: _kind_form(key, typed, errors, opened_on), save
    )


def _ticked(data: KeyData) -> dict[str, tuple[str, ...]]:
    """The answers ticked, by question."""
    pairs = {tuple(value.split(":", 1)) for value in request.form.getlist(ANSWERS)}
    return {
        question.key: tuple(one.key for one in question.answers if (question.key, one.key) in pairs)
        for question in data.questions
    }


def _kind_form(
    key: str | None, typed: Mapping[str, str], errors: Mapping[str, str], opened_on: str
) -> str:
    row = None if key is None else find_own_kind(reading(), key)
    data = library.key_data()
    kept = (row.answers if row else None) or {}
    return render_template(
        "guide/own_kind.html",
        kept=row,
        typed=typed,
        questions=data.questions,
        ticked=_ticked(data) if typed is request.form else kept,
        **standing(row, errors, opened_on),
    )


@bp.get("/<key>/causes/new")
def new_cause(key: str) -> ResponseReturnValue:
    """The form of a new cause under a kind."""
    return _cause_form(key, None, {}, {}, "")


@bp.post("/<key>/causes/new")
def create_cause(key: str) -> ResponseReturnValue:
    """Write a new cause down under a kind."""
    return _save_cause(key, None)


@bp.get("/<key>/causes/<cause>/edit")
def edit_cause(key: str, cause: str) -> ResponseReturnValue:
    """The form of an own cause."""
    row = find_own(reading(), OwnCause, key, cause)
    typed = {name: getattr(row, name) for name in _CAUSE_TEXTS}
    if row.check_minutes is not None:
        typed["check_minutes"] = figure(row.check_minutes)
    return _cause_form(key, cause, typed, {}, "")


@bp.post("/<key>/causes/<cause>/edit")
def change_cause(key: str, cause: str) -> ResponseReturnValue:
    """Change an own cause."""
    return _save_cause(key, cause)


@bp.post("/<key>/causes/<cause>/delete")
def delete_cause(key: str, cause: str) -> ResponseReturnValue:
    """Leave an own cause out."""
    return delete_and_say(OwnCause, key, cause, place="causes", among="causes")


@bp.post("/<key>/causes/<cause>/restore")
def restore_cause(key: str, cause: str) -> ResponseReturnValue:
    """Bring an own cause back."""
    return restore_and_say(OwnCause, key, cause, place=f"cause-{cause}")


def _save_cause(kind: str, key: str | None) -> ResponseReturnValue:
    def save(session: Session) -> str:
        row = save_own_cause(
            session, kind, _cause_plan(), at=datetime.now(UTC), key=key, opened_on=opened()
        )
        flash(f"“{row.title}” is saved, and ranked with the other causes.")
        return back_to(kind, f"cause-{row.key}")

    return saved_or(
        lambda typed, errors, opened_on: _cause_form(kind, key, typed, errors, opened_on), save
    )


def _cause_plan() -> OwnCausePlan:
    minutes = request.form.get("check_minutes", "").strip()
    return OwnCausePlan(
        **{name: request.form.get(name, "") for name in _CAUSE_TEXTS},
        check_minutes=read_number(minutes, field="check_minutes", label="Time of the check")
        if minutes
        else None,
    )


def _cause_form(
    kind: str,
    key: str | None,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    opened_on: str,
) -> str:
    session = reading()
    row = None if key is None else find_own(session, OwnCause, kind, key)
    return render_template(
        "guide/own_cause.html",
        kind=find_kind(session, kind),
        kept=row,
        typed=typed,
        **standing(row, errors, opened_on),
    )


@bp.post("/<key>/notes")
def note(key: str) -> ResponseReturnValue:
    """Write a house note under a kind."""

    def save(session: Session) -> str:
        add_note(session, key, request.form.get("words", ""), at=datetime.now(UTC))
        flash("The note is kept.")
        return back_to(key, "notes")

    return saved_or(lambda typed, errors, _: kind_page(key, typed, errors), save)


@bp.get("/<key>/notes/<int:number>/edit")
def edit(key: str, number: int) -> ResponseReturnValue:
    """The form of a house note."""
    return _note_form(key, number, {}, {}, "")


@bp.post("/<key>/notes/<int:number>/edit")
def change(key: str, number: int) -> ResponseReturnValue:
    """Put a house note into other words."""

    def save(session: Session) -> str:
        words = request.form.get("words", "")
        edit_note(session, key, number, words, at=datetime.now(UTC), opened_on=opened())
        flash("The note is changed.")
        return back_to(key, "notes")

    return saved_or(
        lambda typed, errors, opened_on: _note_form(key, number, typed, errors, opened_on), save
    )


@bp.post("/<key>/notes/<int:number>/delete")
def delete(key: str, number: int) -> ResponseReturnValue:
    """Take a house note off the page."""

    def save(session: Session) -> str:
        delete_note(session, key, number, at=datetime.now(UTC))
        flash("The note is deleted. It can be brought back under the notes.")
        return back_to(key, "notes")

    return save_once(save)


@bp.post("/<key>/notes/<int:number>/restore")
def restore(key: str, number: int) -> ResponseReturnValue:
    """Bring a house note back."""

    def save(session: Session) -> str:
        restore_note(session, key, number)
        flash("The note is back.")
        return back_to(key, "notes")

    return save_once(save)


def _note_form(
    key: str, number: int, typed: Mapping[str, str], errors: Mapping[str, str], opened_on: str
) -> str:
    session = reading()
    row = find_note(session, key, number)
    return render_template(
        "guide/note.html",
        kind=find_kind(session, key),
        note=row,
        typed=typed,
        **standing(row, errors, opened_on),
    )
