"""Two settings of one fact compared: the sentences, every build, and the numbers behind them."""

from flask import Blueprint, Response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.build_sets import BuildSet, part_choices
from defectlog.bench.comparison import Compared, Side, compare_settings
from defectlog.bench.comparison_tables import comparison_table, figure_rows, figure_table
from defectlog.bench.fact_columns import is_worked_out
from defectlog.charts.drawing import DESK, PHONE
from defectlog.charts.strips import StripDrawing, draw_strips
from defectlog.errors import FieldError, NotFoundError
from defectlog.report.chart_picture import ChartPicture
from defectlog.units import plural
from defectlog.web.build_sets import set_args
from defectlog.web.goes_with import trial_url
from defectlog.web.pictures import PointLink, send_numbers, send_picture, source_line
from defectlog.web.records import reading
from defectlog.web.series_view import NumberRow
from defectlog.web.set_page import asked_result, options, set_form, set_page, wanted_set

bp = Blueprint("comparison", __name__, url_prefix="/trends/compare")

STRIPS_KEY = "Every circle is one build, the upright line the mean of its strip."


@bp.get("/")
def index() -> ResponseReturnValue:
    """The two settings by the result asked for, and by voids, mass and working time beside it."""
    parts = part_choices(reading())
    if not parts:
        return render_template("trends/empty.html")
    try:
        wanted = wanted_set()
        compared = _compared(wanted)
    except FieldError as error:
        return set_page(error, url_for(".index")), 400
    asked = set_args(wanted) | options() | {"fact": compared.fact.name}
    settings = dict(zip("ab", compared.pair.keys, strict=True)) if compared.pair else {}
    can_be_tried = not is_worked_out(compared.fact.name)
    return render_template(
        "trends/compare.html",
        compared=compared,
        query=asked | settings,
        fact_query=asked,
        set_query=set_args(wanted) | options(),
        facts=[(fact.name, fact.label) for fact in compared.offered],
        settings=[(c.key, f"{c.words} ({c.builds})") for c in compared.settings.choices],
        drawings={side.result.key: _drawings(side) for side in compared.sides},
        points={side.result.key: _points(side) for side in compared.sides},
        keys={side.result.key: _key(side) for side in compared.sides},
        figures=figure_rows(compared),
        rows=_rows(compared),
        trial=trial_url(
            wanted,
            compared.sides[0].result.key,
            compared.fact.name,
            compared.fact.label,
            compared.sides[0].made.surface,
        )
        if compared.sides and can_be_tried
        else "",
        **set_form(wanted, compared.chosen.words, parts),
    )


@bp.get("/builds.csv")
def build_csv() -> Response:
    """Every build behind the pictures."""
    return send_numbers(comparison_table(_compared(wanted_set())), "comparison-builds.csv")


@bp.get("/figures.csv")
def figure_csv() -> Response:
    """The figures behind the sentences."""
    return send_numbers(figure_table(_compared(wanted_set())), "comparison-figures.csv")


@bp.get("/<side>.<any(svg, png):form>")
def side_picture(side: str, form: str) -> Response:
    """Every build of one result as a picture for a report."""
    compared = _compared(wanted_set())
    shown = next((one for one in compared.sides if one.result.key == side), None)
    drawings = _drawings(shown) if shown else []
    if shown is None or compared.pair is None or not drawings:
        raise NotFoundError("comparison of", side[:40])
    first, second = compared.pair.choices
    picture = ChartPicture(
        title=f"{shown.made.title}: {first.words} and {second.words}",
        sentence=shown.sentence,
        drawing=drawings[-1][1],
        key=_key(shown),
        source=source_line(
            reading(), f"{plural(sum(map(len, shown.builds)), 'build')} ({compared.chosen.words})"
        ),
    )
    return send_picture(picture, f"comparison-{shown.result.key}", form)


def _compared(wanted: BuildSet) -> Compared:
    args = request.args
    return compare_settings(
        reading(),
        wanted,
        args.get("fact", ""),
        asked_result(),
        first=args.get("a", ""),
        second=args.get("b", ""),
        surface=args.get("surface", ""),
        kind=args.get("kind", ""),
    )


def _key(side: Side) -> str:
    unit = f" in {side.result.unit}" if side.result.unit else ""
    return f"Across: {side.result.title.lower()}{unit}. {STRIPS_KEY}"


def _drawings(side: Side) -> list[tuple[str, StripDrawing]]:
    if not any(strip.builds for strip in side.strips):
        return []
    groups = [
        (f"{strip.words}: {plural(len(strip.builds), 'build')}", [b.value for b in strip.builds])
        for strip in side.strips
    ]
    return [
        (name, draw_strips(groups, sheet=sheet, write=side.result.write_tick))
        for name, sheet in (("phone", PHONE), ("desk", DESK))
    ]


def _points(side: Side) -> list[list[PointLink]]:
    return [
        [
            PointLink(
                url_for("builds.show", number=one.number),
                f"Build {one.number}, {strip.words}: {side.result.write_with_spread(one.made)}",
            )
            for one in strip.builds
        ]
        for strip in side.strips
    ]


def _rows(compared: Compared) -> list[NumberRow]:
    if compared.pair is None:
        return []
    return [
        NumberRow(
            url_for("builds.show", number=one.number),
            f"Build {one.number}",
            (side.result.title, setting.words, one.part, side.result.write_with_spread(one.made)),
        )
        for side in compared.sides
        for setting, builds in zip(compared.pair.choices, side.builds, strict=True)
        for one in builds
    ]
