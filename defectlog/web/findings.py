"""Findings: the list, and the page of one from its photos to its outcome."""

from datetime import UTC, datetime

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.bin import delete_finding
from defectlog.bench.checks import record_check, withdraw_check
from defectlog.bench.decisions import decide, judge_cause, save_note, withdraw_verdict
from defectlog.bench.findings import find_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.house_notes import notes_of
from defectlog.bench.kinds import find_kind
from defectlog.bench.lessons import write_lesson
from defectlog.bench.limits import verdict
from defectlog.bench.long_lists import page_of_findings
from defectlog.bench.next_step import next_step
from defectlog.bench.over_time import before_and_after, looks_over_time
from defectlog.bench.tallies import OTHER_FIX, tallies_of
from defectlog.bench.why import why
from defectlog.errors import FieldError, FormError
from defectlog.guide import library
from defectlog.records import FixResult, LessonState, Outcome
from defectlog.units import read_number
from defectlog.web.build_rows import finding_rows
from defectlog.web.faults import status_of
from defectlog.web.once import save_once, say
from defectlog.web.records import reading
from defectlog.web.upkeep import undo

bp = Blueprint("findings", __name__, url_prefix="/findings")

PAGE = 60


@bp.get("/")
def index() -> ResponseReturnValue:
    """The findings, newest first; of one kind or part, or those still open, if asked for."""
    kind = request.args.get("kind", "")
    part = request.args.get("part", type=int)
    only_open = request.args.get("open") == "yes"
    found, count = page_of_findings(
        reading(), kind=kind, part_id=part, only_open=only_open, most=PAGE
    )
    return render_template(
        "findings/index.html",
        rows=finding_rows(found),
        count=count,
        kind=kind,
        only_open=only_open,
        part=found[0].build.part if part is not None and found else None,
    )


@bp.get("/<int:number>")
def show(number: int) -> ResponseReturnValue:
    """One finding: its photos, its likely cause, the fix, the outcome, the lesson."""
    return _page(number, {}, {})


def _page(number: int, typed: dict[str, str], errors: dict[str, str]) -> str:
    session = reading()
    finding = find_finding(session, number)
    asked = why(session, finding)
    tallies = tallies_of(session, finding.kind)
    return render_template(
        "findings/show.html",
        finding=finding,
        entry=find_kind(session, finding.kind),
        hold=library.shared().hold,
        verdict=verdict(finding),
        next=next_step(finding),
        looks=looks_over_time(session, finding),
        pair=before_and_after(finding),
        why=asked,
        notes=notes_of(session, finding.kind).kept,
        tallies=tallies,
        other_fixes=tallies.fixes.get(OTHER_FIX, ()),
        outcomes=[outcome for outcome in Outcome if outcome is not Outcome.OPEN],
        typed=typed,
        errors=errors,
    )


def _saved(number: int, anchor: str, errors_for: str, save) -> ResponseReturnValue:
    """Save a form of the page; what is wrong with it is said beside it, with what was typed."""

    def then_back(session: Session) -> str:
        save(session)
        return url_for(".show", number=number, _anchor=anchor)

    try:
        return save_once(then_back)
    except FormError as error:
        faults = {f"{errors_for}-{fault.field}": str(fault) for fault in error.faults}
        typed = {f"{errors_for}-{key}": value for key, value in request.form.items()}
        return _page(number, typed, faults), status_of(error)


@bp.post("/<int:number>/cause")
def judge(number: int) -> ResponseReturnValue:
    """Confirm a cause, rule it out, or take that back."""
    cause, said = request.form.get("cause", ""), request.form.get("said", "")
    if said not in ("confirmed", "ruled out", "withdrawn"):
        raise FieldError("said", "It does not say what the check showed", "use the buttons")

    def save(session: Session) -> None:
        if said == "withdrawn":
            withdraw_verdict(session, number, cause)
            return
        seen = request.form.get("seen", "")
        judge_cause(session, number, cause, said == "confirmed", seen=seen, at=datetime.now(UTC))
        say(f"Cause {said}; the ranking has been done anew.", at="why")

    return _saved(number, "why", "cause", save)


@bp.post("/<int:number>/check")
def check(number: int) -> ResponseReturnValue:
    """Write down what a check showed, or take that back."""
    key, said = request.form.get("check", ""), request.form.get("said", "")
    if said not in ("yes", "no", "withdrawn"):
        raise FieldError("said", "It does not say what the check showed", "use the buttons")

    def save(session: Session) -> None:
        if said == "withdrawn":
            withdraw_check(session, number, key)
            say("The check counts as not done; the ranking has been done anew.", at="why")
            return
        seen = request.form.get("seen", "")
        record_check(session, number, key, said == "yes", seen=seen, at=datetime.now(UTC))
        say("The check is on record; the ranking has been done anew.", at="why")

    return _saved(number, "why", "check", save)


@bp.post("/<int:number>/fix")
def fix(number: int) -> ResponseReturnValue:
    """Write down what was done to the part."""

    def save(session: Session) -> None:
        record_fix(
            session,
            number,
            request.form.get("words", ""),
            minutes=_minutes(request.form.get("minutes", "")),
            at=datetime.now(UTC),
            fix_key=request.form.get("fix_key", ""),
        )
        say("The fix is on record. Photograph the place again to show that it held.", at="fix")

    return _saved(number, "fix", "fix", save)


_LOOKED = {"held": FixResult.HELD, "failed": FixResult.FAILED, "not yet": None}


@bp.post("/<int:number>/fix/<int:fix_number>")
def looked(number: int, fix_number: int) -> ResponseReturnValue:
    """Write down whether a fix held, or take that back."""
    said = request.form.get("said", "")
    if said not in _LOOKED:
        raise FieldError("said", "It does not say whether the fix held", "use the buttons")

    def save(session: Session) -> None:
        fix = look_again(session, number, fix_number, _LOOKED[said], at=datetime.now(UTC))
        told = f"On record: the fix {fix.result.value}." if fix.result else "Not looked at yet."
        say(told, at="fix")

    return _saved(number, "fix", "looked", save)


def _minutes(text: str) -> float | None:
    try:
        return read_number(text, field="minutes", label="Time") if text.strip() else None
    except FieldError as fault:
        raise FormError([fault]) from fault


@bp.post("/<int:number>/outcome")
def set_outcome(number: int) -> ResponseReturnValue:
    """Record what happens to the part for one finding."""
    chosen = request.form.get("outcome", "")
    outcome = next((one for one in Outcome if one.value == chosen), None)

    def save(session: Session) -> None:
        if outcome is None:
            fault = FieldError("outcome", "No outcome is chosen", "choose what happens to the part")
            raise FormError([fault])
        decide(
            session,
            number,
            outcome,
            reason=request.form.get("reason", ""),
            at=datetime.now(UTC),
            seen=request.form.get("seen", type=int),
        )
        say(
            f"Finding {number} is open again."
            if outcome is Outcome.OPEN
            else f"Finding {number}: {outcome.value}.",
            at="outcome",
        )

    return _saved(number, "outcome", "outcome", save)


@bp.post("/<int:number>/delete")
def delete(number: int) -> ResponseReturnValue:
    """Put the finding in the bin, with its marks."""

    def save(session: Session) -> str:
        build_id = delete_finding(session, number, datetime.now(UTC)).build_id
        undo(f"Finding {number} is in the bin, with its marks.", "finding", number)
        return url_for("builds.show", number=build_id)

    return save_once(save)


@bp.post("/<int:number>/lesson")
def lesson(number: int) -> ResponseReturnValue:
    """Write the one thing to change on the next builds of the part."""

    def save(session: Session) -> None:
        proposed = request.form.get("state") == LessonState.PROPOSED.value
        written = write_lesson(
            session,
            number,
            request.form.get("words", ""),
            at=datetime.now(UTC),
            state=LessonState.PROPOSED if proposed else LessonState.ON_TRIAL,
        )
        told = f"The lesson will stand on the next lay-up sheets of {written.part.name}."
        if proposed:
            told = "The lesson is proposed: it waits on the board of lessons to be tried."
        say(told, at="lesson")

    return _saved(number, "lesson", "lesson", save)


@bp.post("/<int:number>/note")
def note(number: int) -> ResponseReturnValue:
    """Keep a remark on the finding."""
    typed, seen = request.form.get("note", ""), request.form.get("seen")
    return _saved(number, "note", "note", lambda s: save_note(s, number, typed, seen))
