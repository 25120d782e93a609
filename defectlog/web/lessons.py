"""Lessons: what was learnt, where it was due, and whether the kind came back."""

from flask import Blueprint, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.lessons import (
    find_lesson,
    lesson_effect,
    list_lessons,
    set_lesson_state,
)
from defectlog.errors import FieldError, FormError
from defectlog.records import LessonState
from defectlog.web.once import save_once
from defectlog.web.records import reading

bp = Blueprint("lessons", __name__, url_prefix="/lessons")


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every lesson with what became of it."""
    session = reading()
    lessons = [(lesson, lesson_effect(session, lesson)) for lesson in list_lessons(session)]
    return render_template(
        "lessons/index.html",
        groups=[
            (state, [row for row in lessons if row[0].state is state]) for state in LessonState
        ],
        count=len(lessons),
    )


@bp.get("/<int:number>")
def show(number: int) -> ResponseReturnValue:
    """One lesson: where it came from, the builds it was due on, whether it helped."""
    return _page(number, {}, {})


def _page(number: int, typed: dict[str, str], errors: dict[str, str]) -> str:
    session = reading()
    lesson = find_lesson(session, number)
    return render_template(
        "lessons/show.html",
        lesson=lesson,
        effect=lesson_effect(session, lesson),
        states=list(LessonState),
        typed=typed,
        errors=errors,
    )


@bp.post("/<int:number>/state")
def set_state(number: int) -> ResponseReturnValue:
    """Keep a lesson, drop it with a reason, or put it on trial again."""
    chosen = request.form.get("state", "")
    state = next((one for one in LessonState if one.value == chosen), None)

    def save(session: Session) -> str:
        if state is None:
            raise FormError([FieldError("state", "No answer is chosen", "choose one of the three")])
        set_lesson_state(session, number, state, reason=request.form.get("reason", ""))
        flash(f"The lesson is {state.value}.")
        return url_for(".show", number=number)

    try:
        return save_once(save)
    except FormError as error:
        faults = {fault.field: str(fault) for fault in error.faults}
        return _page(number, request.form.to_dict(), faults), 400
