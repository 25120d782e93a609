"""Trends: any result of any set of builds over time, and the numbers behind it."""

from dataclasses import dataclass

from flask import Blueprint, Response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.build_sets import BuildSet, PartChoice, choose_builds, part_choices
from defectlog.bench.kind_bars import KindBars, findings_of_kind, kind_bars, kind_table
from defectlog.bench.kinds import find_kind
from defectlog.bench.parts import find_part
from defectlog.bench.series import Series, result_series, series_table
from defectlog.charts.bars import BarDrawing, draw_bars
from defectlog.errors import FieldError, NotFoundError
from defectlog.report.chart_picture import SERIES_KEY, ChartPicture
from defectlog.report.chart_shapes import BarRows
from defectlog.units import percent, percent_range, plural
from defectlog.web.build_rows import finding_rows
from defectlog.web.build_sets import is_set_asked, read_set, set_args
from defectlog.web.pictures import send_numbers, send_picture, source_line
from defectlog.web.records import reading
from defectlog.web.series_view import (
    NumberRow,
    drawings,
    line_words,
    number_rows,
    other_links,
    point_links,
    told_apart,
)
from defectlog.web.set_page import asked_result, options, set_form, set_page
from defectlog.web.words import kind_code, kind_title

bp = Blueprint("trends", __name__, url_prefix="/trends")

_CHARTS = {"values": "", "drift": "moving average", "steps": "step from the build before"}
_RUNS = "runs"  # whether the run rules are looked at too


@dataclass(frozen=True, slots=True)
class BarRow:
    """One kind among the bars."""

    url: str
    code: str
    title: str
    words: str
    drawing: BarDrawing


@bp.get("/")
def index() -> ResponseReturnValue:
    """The set that is asked for, else the part with most builds; the others are a tap away."""
    parts = part_choices(reading())
    if not parts:
        return render_template("trends/empty.html")
    if not is_set_asked(request.args):
        return _page(BuildSet(part=parts[0].id), parts)
    try:
        return _page(read_set(request.args), parts)
    except FieldError as error:
        return set_page(error, url_for(".index"), _RUNS), 400


@bp.get("/<int:part_id>")
def show(part_id: int) -> ResponseReturnValue:
    """One part over time."""
    return _page(BuildSet(part=part_id), part_choices(reading()))


@bp.get("/result.csv")
def result_csv() -> Response:
    """The numbers behind the chart."""
    wanted, series = _asked_series()
    return send_numbers(series_table(series), f"{_file_name(wanted, series.result.key)}.csv")


@bp.get("/result.<any(svg, png):form>")
def result_picture(form: str) -> Response:
    """The chart as a picture for a report."""
    wanted, series = _asked_series()
    chart = request.args.get("chart", "values")
    drawn = drawings(series, chart) if chart in _CHARTS else []
    if not drawn:
        raise NotFoundError("chart", chart)
    known = sum(point.made is not None for point in series.points)
    words = f", {_CHARTS[chart]}" if chart != "values" else ""
    unit = f", {series.result.unit}" if series.result.unit else ""
    sentences = {"values": series.sentence}
    if series.drift:
        sentences["drift"] = series.drift.sentence
    if series.steps:
        sentences["steps"] = series.steps.sentence
    picture = ChartPicture(
        title=f"{_heading(series.charted.builds)}: {series.made.title}{words}",
        sentence=sentences[chart],
        drawing=drawn[-1][1],
        up=f"Upwards: {series.result.title.lower()}{words}{unit}",
        across="build",
        key=SERIES_KEY if any(phase.chart for phase in series.phases) else "",
        source=source_line(reading(), plural(known, "build")),
    )
    name = _file_name(wanted, series.result.key) + (f"-{chart}" if chart != "values" else "")
    return send_picture(picture, name, form)


@bp.get("/kinds.csv")
def kind_csv() -> Response:
    """The numbers behind the bars."""
    wanted, counted = _asked_kinds()
    return send_numbers(kind_table(counted), f"{_file_name(wanted, 'findings')}-by-kind.csv")


@bp.get("/kinds.<any(svg, png):form>")
def kind_picture(form: str) -> Response:
    """The bars of kinds as a picture for a report."""
    session = reading()
    wanted, counted = _asked_kinds()
    if not counted.bars:
        raise NotFoundError("chart", "findings by kind")
    rows = _bar_rows(wanted, counted)
    picture = ChartPicture(
        title=f"{_heading(choose_builds(session, wanted).words)}: findings by kind",
        sentence=counted.sentence,
        drawing=BarRows(tuple((row.title, row.words, row.drawing) for row in rows)),
        up="Share of all findings, per cent",
        key="Thick bar: share. Thin line: its 95 % interval (Wilson), each kind for itself.",
        source=source_line(
            session, f"{plural(counted.total, 'finding')} on {plural(counted.builds, 'build')}"
        ),
    )
    return send_picture(picture, f"{_file_name(wanted, 'findings')}-by-kind", form)


@bp.get("/kinds/<kind>")
def findings(kind: str) -> ResponseReturnValue:
    """The findings behind one bar."""
    session = reading()
    wanted = read_set(request.args)
    chosen = choose_builds(session, wanted)
    rows = finding_rows(findings_of_kind(session, chosen, kind))
    if not rows:
        find_kind(session, kind)  # or there is no such kind
    return render_template(
        "trends/findings.html",
        words=chosen.words,
        back=url_for(".index", **set_args(wanted)),
        kind=kind,
        rows=rows,
    )


def _page(wanted: BuildSet, parts: tuple[PartChoice, ...]) -> str:
    session = reading()
    chosen = options(_RUNS)
    series = _series(wanted)
    counted = kind_bars(session, series.chosen)
    names = {part.id: part.name for part in parts} if wanted.part is None else {}
    asked = set_args(wanted)
    headings, rows = number_rows(series)

    def address(**more: object) -> str:
        return url_for(".index", **{**asked, **chosen, **more})

    return render_template(
        "trends/show.html",
        address=address,
        query=asked | chosen,
        series=series,
        told=told_apart(series),
        charts={name: drawings(series, name) for name in _CHARTS},
        points=point_links(series, names),
        others={
            name: other_links(series, names, name, words)
            for name, words in _CHARTS.items()
            if words
        },
        lines=line_words(series),
        headings=headings,
        rows=rows,
        counted=counted,
        bars=_bar_rows(wanted, counted),
        bar_rows=_bar_numbers(wanted, counted),
        **set_form(wanted, series.charted.builds, parts, _RUNS),
    )


def _series(wanted: BuildSet) -> Series:
    return result_series(
        reading(),
        wanted,
        asked_result(),
        surface=request.args.get("surface", ""),
        kind=request.args.get("kind", ""),
        run_rules=bool(request.args.get(_RUNS)),
    )


def _asked_series() -> tuple[BuildSet, Series]:
    wanted = read_set(request.args)
    return wanted, _series(wanted)


def _asked_kinds() -> tuple[BuildSet, KindBars]:
    session = reading()
    wanted = read_set(request.args)
    return wanted, kind_bars(session, choose_builds(session, wanted))


def _file_name(wanted: BuildSet, what: str) -> str:
    """``part-3-voids``: no name that a person typed goes into a file's name."""
    if wanted.part is None:
        return f"builds-{what}"
    find_part(reading(), wanted.part)
    return f"part-{wanted.part}-{what}"


def _heading(words: str) -> str:
    return words[:1].upper() + words[1:]


def _kind_url(wanted: BuildSet, kind: str) -> str:
    return url_for(".findings", kind=kind, **set_args(wanted))


def _bar_rows(wanted: BuildSet, counted: KindBars) -> list[BarRow]:
    return [
        BarRow(
            _kind_url(wanted, bar.key),
            kind_code(bar.key),
            kind_title(bar.key),
            f"{bar.count}, {percent(bar.share)} ({percent_range(bar.low, bar.high)})",
            drawing,
        )
        for bar, drawing in zip(counted.bars, draw_bars(counted.bars), strict=True)
    ]


def _bar_numbers(wanted: BuildSet, counted: KindBars) -> list[NumberRow]:
    return [
        NumberRow(
            _kind_url(wanted, bar.key),
            kind_title(bar.key),
            (
                plural(bar.count, "finding"),
                percent(bar.share),
                percent_range(bar.low, bar.high),
                percent(bar.running),
            ),
        )
        for bar in counted.bars
    ]
