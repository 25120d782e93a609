"""What goes with what: the build facts a result moves with, ranked, and the numbers behind it."""

from flask import Blueprint, Response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.build_sets import BuildSet, part_choices
from defectlog.bench.goes_with import GoesWith, Moved, goes_with, goes_with_table
from defectlog.bench.results import RESULTS
from defectlog.bench.surface_voids import Surface
from defectlog.bench.trial_results import MEASURES
from defectlog.errors import FieldError
from defectlog.units import percent
from defectlog.web.build_sets import set_args
from defectlog.web.pictures import send_numbers
from defectlog.web.records import reading
from defectlog.web.series_view import NumberRow
from defectlog.web.set_page import asked_result, options, set_form, set_page, wanted_set

bp = Blueprint("goes_with", __name__, url_prefix="/trends/goes-with")

_TRIALS = {measure.key: result for result, measure in MEASURES.items()}


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every fact that a result of these builds moves with."""
    parts = part_choices(reading())
    if not parts:
        return render_template("trends/empty.html")
    try:
        wanted = wanted_set()
        shown = _shown(wanted)
    except FieldError as error:
        return set_page(error, url_for(".index")), 400
    return render_template(
        "trends/goes_with.html",
        shown=shown,
        query=set_args(wanted) | options(),
        compare=lambda one: compare_url(wanted, one),
        trial=lambda one: trial_url(
            wanted, shown.result.key, one.name, one.label, shown.made.surface
        ),
        rows=_rows(wanted, shown),
        **set_form(wanted, shown.chosen.words, parts),
    )


@bp.get("/facts.csv")
def fact_csv() -> Response:
    """The numbers behind the list."""
    return send_numbers(goes_with_table(_shown(wanted_set())), "goes-with.csv")


def compare_url(wanted: BuildSet, one: Moved) -> str:
    """Where the settings of a fact are compared."""
    asked = {**set_args(wanted), **options(), "fact": one.name}
    if one.settings:
        asked["a"], asked["b"] = one.settings
    return url_for("comparison.index", **asked)


def trial_url(wanted: BuildSet, result: str, fact: str, label: str, surface: Surface | None) -> str:
    """The plan of a trial of that fact, its first half filled in as far as is known."""
    asked: dict[str, str] = {
        "change": "yes",
        "fact": fact,
        "question": f"What does “{label.lower()}” do to {RESULTS[result].title.lower()}?",
    }
    if wanted.part is not None:
        asked["part"] = str(wanted.part)
    asked["result"] = _TRIALS[result].value
    if request.args.get("kind"):
        asked["kind"] = request.args["kind"]
    if surface is not None:
        asked["surface"] = surface.key
    return url_for("trials.new", **asked)


def _shown(wanted: BuildSet) -> GoesWith:
    return goes_with(
        reading(),
        wanted,
        asked_result(),
        surface=request.args.get("surface", ""),
        kind=request.args.get("kind", ""),
    )


def _rows(wanted: BuildSet, shown: GoesWith) -> list[NumberRow]:
    facts = [one for bundle in shown.found for one in bundle.facts]
    return [
        NumberRow(
            compare_url(wanted, one),
            one.label,
            (
                one.told.effect,
                one.told.interval.replace(" interval ", ": "),
                f"{one.told.q}: {one.told.by_chance}",
                percent(one.association.p_value),
                str(one.association.builds),
            ),
        )
        for one in (*facts, *shown.dull)
    ]
