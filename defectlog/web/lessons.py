"""Lessons: what was learnt, where it was due, and whether the kind came back."""

from flask import Blueprint, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.kinds import cause_title
from defectlog.bench.lesson_effects import due_builds, due_words, lesson_effect, look_over
from defectlog.bench.lessons import find_lesson, list_lessons, set_lesson_state
from defectlog.errors import FieldError, FormError
from defectlog.records import LessonState
from defectlog.web.once import save_once
from defectlog.web.records import reading

_EMPTY = {
    LessonState.PROPOSED: "None. A proposal is not on lay-up sheets yet: put it on trial for that.",
    LessonState.ON_TRIAL: "None. A lesson on trial stands on every lay-up sheet of its part.",
    LessonState.KEPT: "None yet. Keep a lesson once its builds show that it helps.",
    LessonState.DROPPED: "None yet. One that did not help is dropped, and its reason stays.",
}

MOST = 100  # builds in the table of one lesson; the newest are shown

bp = Blueprint("lessons", __name__, url_prefix="/lessons")


@bp.get("/")
def index() -> ResponseReturnValue:
    """The board: every lesson under its state, with where it was due and what it changed."""
    session = reading()
    lessons = list_lessons(session)
    looked = look_over(session, lessons)
    rows = [
        (
            lesson,
            lesson_effect(session, lesson, looked),
            due_words(due_builds(session, lesson, looked)),
            cause_title(session, lesson.finding.kind, lesson.cause),
        )
        for lesson in lessons
    ]
    return render_template(
        "lessons/index.html",
        groups=[
            (state, _EMPTY[state], [row for row in rows if row[0].state is state])
            for state in LessonState
        ],
        count=len(rows),
    )


@bp.get("/<int:number>")
def show(number: int) -> ResponseReturnValue:
    """One lesson: where it came from, the builds it was due on, whether it helped."""
    return _page(number, {}, {})


def _page(number: int, typed: dict[str, str], errors: dict[str, str]) -> str:
    session = reading()
    lesson = find_lesson(session, number)
    looked = look_over(session, [lesson])
    rows = due_builds(session, lesson, looked)
    return render_template(
        "lessons/show.html",
        lesson=lesson,
        effect=lesson_effect(session, lesson, looked),
        cause=cause_title(session, lesson.finding.kind, lesson.cause),
        due=rows[-MOST:],
        earlier=max(0, len(rows) - MOST),
        due_words=due_words(rows),
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
            raise FormError([FieldError("state", "No answer is chosen", "choose one of the four")])
        set_lesson_state(session, number, state, reason=request.form.get("reason", ""))
        flash(f"The lesson is {state.value}.")
        return url_for(".show", number=number)

    try:
        return save_once(save)
    except FormError as error:
        faults = {fault.field: str(fault) for fault in error.faults}
        return _page(number, request.form.to_dict(), faults), 400
