"""Builds ticked in their list, page after page, to be looked at together in the trends."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.long_lists import page_of_builds
from defectlog.bench.parts import find_part, list_parts
from defectlog.web.build_rows import build_rows
from defectlog.web.build_sets import TICKED, read_set, set_args
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
        flash("No build is ticked: tick the builds you want to see together.", "error")
        return redirect(url_for(".index", of=request.args.get("of")))
    return redirect(url_for("trends.index", **set_args(wanted)))
