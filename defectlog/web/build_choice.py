"""Builds ticked in their list, page after page, to be looked at together in the trends."""

from collections.abc import Mapping
from datetime import UTC, datetime

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import BuildSet, read_numbers
from defectlog.bench.kept_sets import drop_set, keep_set
from defectlog.bench.long_lists import page_of_builds
from defectlog.bench.parts import find_part, list_parts
from defectlog.errors import FormError
from defectlog.units import plural
from defectlog.web.build_rows import build_rows
from defectlog.web.build_sets import TICKED, read_set, set_args
from defectlog.web.once import save_once
from defectlog.web.records import reading

bp = Blueprint("build_choice", __name__, url_prefix="/builds/choose")

PAGE = 100


@bp.get("/")
def index() -> ResponseReturnValue:
    """The builds with a box each. What is ticked on another page comes along in the address."""
    session = reading()
    # The button that was pressed stands behind the field that says where one is.
    wanted = [part for part in request.args.getlist("of") if part]
    number = int(wanted[-1]) if wanted and wanted[-1].isdecimal() else None
    part = None if number is None else find_part(session, number)
    first = max(0, request.args.get("from", 0, type=int))
    page = page_of_builds(session, number, first=first, most=PAGE)
    ticked = {word for word in request.args.getlist(TICKED) if word.isdecimal()}
    elsewhere = ticked - {str(build.id) for build in page.builds}
    return render_template(
        "builds/choose.html",
        part=part,
        parts=list_parts(session),
        rows=build_rows(page.builds),
        ticked=ticked,
        elsewhere=sorted(elsewhere, key=lambda word: (len(word), word)),
        newer=max(0, first - PAGE) if first else None,
        older=first + PAGE if first + PAGE < page.count else None,
    )


@bp.get("/show")
def show() -> ResponseReturnValue:
    """The trends of the ticked builds, at an address that can be kept."""
    wanted = read_set(request.args)
    if not wanted.builds:
        return _nothing_ticked()
    return redirect(_trends(wanted.builds, wanted.name))


@bp.get("/keep")
def name_set() -> ResponseReturnValue:
    """The ticked builds, about to be kept as a set under a name."""
    wanted = read_set(request.args)
    if not wanted.builds:
        return _nothing_ticked()
    return _name_page(wanted.builds, wanted.name, {})


@bp.post("/keep")
def keep() -> ResponseReturnValue:
    """Keep builds as a set; one of the same name gives way only if that is asked for."""
    builds, name = request.form.get("builds", ""), request.form.get("name", "")
    numbers = read_numbers(builds)

    def save(session: Session) -> str:
        kept = keep_set(
            session,
            name,
            numbers,
            at=datetime.now(UTC),
            may_replace=request.form.get("replace") == "yes",
        )
        flash(f"“{kept.name}” is kept: {plural(len(kept.members), 'build')}.")
        return _trends(", ".join(str(one.build_id) for one in kept.members), kept.name)

    try:
        return save_once(save)
    except FormError as error:
        return _name_page(builds, name, {f.field: str(f) for f in error.faults}), 400


@bp.post("/sets/<int:number>/drop")
def drop(number: int) -> ResponseReturnValue:
    """Forget a set; its builds stay as they are."""

    def forget(session: Session) -> str:
        flash(f"The set “{drop_set(session, number)}” is no longer kept; its builds are.")
        return url_for("trends.index")

    return save_once(forget)


def _nothing_ticked() -> ResponseReturnValue:
    flash("No build is ticked: tick the builds you want to see together.", "error")
    return redirect(url_for(".index", of=request.args.get("of")))


def _trends(builds: str, name: str) -> str:
    return url_for("trends.index", **set_args(BuildSet(builds=builds, name=name)))


def _name_page(builds: str, name: str, errors: Mapping[str, str]) -> str:
    return render_template(
        "builds/keep.html",
        builds=builds,
        numbers=sorted(read_numbers(builds)),
        name=name,
        errors=errors,
        back=url_for(".index", tick=sorted(read_numbers(builds)), name=name),
    )
