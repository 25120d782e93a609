"""Builds: the list, the page of one, the forms of its stages, its lay-up sheet."""

from datetime import UTC, datetime

from flask import Blueprint, abort, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.bin import delete_build
from defectlog.bench.builds import (
    begun_just_now,
    find_build,
    release_build,
    reopen_build,
    save_facts,
    save_note,
    start_build,
)
from defectlog.bench.layup_sheet import layup_sheet
from defectlog.bench.lessons import lessons_for, use_lesson
from defectlog.bench.long_lists import newest_builds, page_of_builds
from defectlog.bench.parts import find_part, list_parts
from defectlog.bench.same_again import proposal, settings_of
from defectlog.bench.trial_words import panel_words
from defectlog.errors import ChangedMeanwhileError
from defectlog.facts import Stage
from defectlog.web.build_rows import build_rows, finding_rows, photo_groups
from defectlog.web.build_words import lines_of, open_count, stage_entries, state_words
from defectlog.web.fact_form import fact_fields, read_facts, seen_facts, typed_fields
from defectlog.web.once import save_once, say
from defectlog.web.records import reading
from defectlog.web.upkeep import undo

bp = Blueprint("builds", __name__, url_prefix="/builds")

PAGE = 40  # builds shown at once

# What the sheet lists under materials, in the order the work needs it.
_MATERIALS = (
    "process",
    "core",
    "core_thickness_mm",
    "core_perforated",
    "core_grooved",
    "tack_adhesive",
    "tack_face",
    "release_system",
    "gelcoat",
    "peel_ply",
    "flow_media",
    "resin_system",
    "degassed",
    "cure_c",
    "cure_h",
)
_WRITE_IN = (
    ("Started, date and time", ""),
    ("Air temperature", "°C"),
    ("Relative humidity", "%"),
    ("Mould temperature", "°C"),
    ("Pressure in the bag, absolute", "mbar"),
    ("Drop test, start", "mbar"),
    ("Drop test, end", "mbar"),
    ("Drop test lasted", "min"),
    ("Resin batch", ""),
    ("Resin mixed", "g"),
    ("Resin temperature", "°C"),
    ("Fill or wet-out took", "min"),
    ("Resin left over", "g"),
    ("Demoulded, date and time", ""),
    ("Mass after trim", "g"),
    ("Working time", "min"),
)


@bp.get("/")
def index() -> ResponseReturnValue:
    """The builds, newest first, of one part if asked for."""
    session = reading()
    number = request.args.get("part", type=int)
    part = None if number is None else find_part(session, number)
    first = max(0, request.args.get("from", 0, type=int))
    page = page_of_builds(session, number, first=first, most=PAGE)
    return render_template(
        "builds/index.html",
        part=part,
        parts=list_parts(session),
        count=page.count,
        waiting=page.waiting,
        rows=build_rows(page.builds),
        older=url_for(".index", **{"part": number, "from": first + PAGE})
        if first + PAGE < page.count
        else None,
    )


@bp.get("/new")
def new() -> ResponseReturnValue:
    """Choose the part of a new build."""
    return _new_form(request.args.get("part", ""), {})


@bp.post("/new")
def create() -> ResponseReturnValue:
    """Start a build of the chosen part."""
    typed = request.form.get("part", "")
    if typed not in {str(part.id) for part in list_parts(reading())}:
        fault = "No part is chosen: choose what this build will be."
        return _new_form("", {"part": fault}), 400

    def start(session: Session) -> str:
        now = datetime.now(UTC)
        build = begun_just_now(session, int(typed), now)
        if build is None:
            build = start_build(session, int(typed), now)
            flash(f"Build {build.id} is started.")
        else:
            flash(
                f"This is build {build.id}, started a moment ago: nothing is noted on it yet, so "
                "no second one was started."
            )
        return url_for(".show", number=build.id)

    return save_once(start)


def _new_form(chosen: str, errors: dict[str, str]) -> str:
    session = reading()
    parts = list_parts(session)
    if not chosen and len(parts) == 1:
        chosen = str(parts[0].id)
    newest = newest_builds(session, [part.id for part in parts])
    last = [newest[p.id] for p in parts if p.id in newest and chosen in ("", str(p.id))]
    return render_template(
        "builds/new.html",
        parts=[(part.id, part.name) for part in parts],
        chosen=chosen,
        errors=errors,
        same_as=[
            (build, lines_of(settings, settings))
            for build in last
            if (settings := settings_of(build))
        ],
    )


@bp.get("/<int:number>")
def show(number: int) -> ResponseReturnValue:
    """A build from top to bottom, as in a logbook."""
    session = reading()
    build = find_build(session, number)
    lessons = lessons_for(session, build)
    return render_template(
        "builds/show.html",
        build=build,
        state=state_words(build),
        open_count=open_count(build),
        panel_of=panel_words(build),
        lessons_due=[lesson for lesson, use in lessons if use is None],
        lessons_used=[use for _, use in lessons if use is not None],
        stages=stage_entries(build),
        photo_groups=photo_groups(build),
        findings=finding_rows(build.findings),
        learnt=[lesson for finding in build.findings for lesson in finding.lessons],
    )


def _stage(key: str) -> Stage:
    return next((stage for stage in Stage if stage.key == key), None) or abort(404)


@bp.get("/<int:number>/facts/<stage>")
def facts(number: int, stage: str) -> ResponseReturnValue:
    """The form of one stage."""
    session = reading()
    build, of_day = find_build(session, number), _stage(stage)
    offered = proposal(session, build, of_day)
    fields = fact_fields(
        of_day,
        build.known,
        same_as=offered.facts if offered else {},
        note=f"same as build {offered.number}" if offered else "",
    )
    return render_template(
        "builds/facts.html",
        build=build,
        stage=of_day,
        rows=fields,
        errors={},
        same_as=offered.number if offered else None,
    )


@bp.post("/<int:number>/facts/<stage>")
def write_facts(number: int, stage: str) -> ResponseReturnValue:
    """Write down what is known of one stage; a form with faults comes back as it was typed."""
    of_day = _stage(stage)
    values, errors = read_facts(of_day, request.form)
    if errors:
        return _typed_facts(number, of_day, errors), 400

    def write(session: Session) -> str:
        seen = seen_facts(of_day, request.form)
        save_facts(session, number, values, datetime.now(UTC), seen=seen)
        say(f"Build {number}, {of_day.value}: saved.", at=of_day.key)
        return url_for(".show", number=number, _anchor=of_day.key)

    try:
        return save_once(write)
    except ChangedMeanwhileError as error:
        told = {fault.field: str(fault) for fault in error.faults}
        return _typed_facts(number, of_day, told, overtaken=True), 409


def _typed_facts(
    number: int, stage: Stage, errors: dict[str, str], *, overtaken: bool = False
) -> str:
    build = find_build(reading(), number)
    return render_template(
        "builds/facts.html",
        build=build,
        stage=stage,
        rows=typed_fields(stage, request.form, errors, build.known, overtaken=overtaken),
        errors=errors,
    )


@bp.post("/<int:number>/lessons/<int:lesson>")
def answer_lesson(number: int, lesson: int) -> ResponseReturnValue:
    """Say whether a lesson was applied or skipped on this build."""
    is_applied = request.form.get("is_applied") == "yes"

    def answer(session: Session) -> str:
        use_lesson(session, lesson, number, is_applied, datetime.now(UTC))
        flash(f"Lesson {'applied' if is_applied else 'skipped'} on build {number}.")
        return url_for(".show", number=number)

    return save_once(answer)


@bp.post("/<int:number>/note")
def note(number: int) -> ResponseReturnValue:
    """Keep a remark on the build."""

    def keep(session: Session) -> str:
        save_note(session, number, request.form.get("note", ""), request.form.get("seen"))
        say("The remark is kept.", at="note")
        return url_for(".show", number=number, _anchor="note")

    return save_once(keep)


@bp.post("/<int:number>/release")
def release(number: int) -> ResponseReturnValue:
    """Release a build, once nothing is open."""

    def let_go(session: Session) -> str:
        release_build(session, number, datetime.now(UTC))
        say(f"Build {number} is released.", at="release")
        return url_for(".show", number=number, _anchor="release")

    return save_once(let_go)


@bp.post("/<int:number>/delete")
def delete(number: int) -> ResponseReturnValue:
    """Put a build in the bin that was started by mistake."""

    def save(session: Session) -> str:
        delete_build(session, number, datetime.now(UTC))
        undo(f"Build {number} is in the bin.", "build", number)
        return url_for(".index")

    return save_once(save)


@bp.post("/<int:number>/reopen")
def reopen(number: int) -> ResponseReturnValue:
    """Take a release back."""

    def take_back(session: Session) -> str:
        reopen_build(session, number)
        say(f"Build {number} is in progress again.", at="release")
        return url_for(".show", number=number, _anchor="release")

    return save_once(take_back)


@bp.get("/<int:number>/sheet")
def sheet(number: int) -> ResponseReturnValue:
    """The lay-up sheet, to print and to write on."""
    page = layup_sheet(reading(), number)
    return render_template(
        "builds/sheet.html",
        build=page.build,
        page=page,
        plies=page.settings.get("plies") or [],
        materials=lines_of(page.settings, _MATERIALS),
        write_in=_WRITE_IN,
    )
