"""Trends: a part over time, its voids and its findings, and the numbers behind them."""

from dataclasses import dataclass

from flask import Blueprint, Response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.kinds import find_kind
from defectlog.bench.parts import find_part
from defectlog.bench.trends import (
    FindingTrend,
    VoidTrend,
    finding_table,
    finding_trend,
    findings_of_kind,
    part_choices,
    void_table,
    void_trend,
)
from defectlog.charts.bars import BarDrawing, draw_bars
from defectlog.charts.drawing import DESK, PHONE, LimitStretch, SeriesDrawing, draw_series
from defectlog.errors import NotFoundError
from defectlog.report.chart_picture import SERIES_KEY, BarRows, ChartPicture
from defectlog.units import measured_percent, percent, percent_range, plural
from defectlog.web.build_rows import finding_rows
from defectlog.web.pictures import PointLink, send_numbers, send_picture, source_line
from defectlog.web.records import reading
from defectlog.web.words import day, kind_code, kind_title

bp = Blueprint("trends", __name__, url_prefix="/trends")


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One row of the table under a chart."""

    url: str
    words: str
    cells: tuple[str, ...]


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
    """The part with most builds; the others are a tap away."""
    parts = part_choices(reading())
    if not parts:
        return render_template("trends/empty.html")
    return show(parts[0].id)


@bp.get("/<int:part_id>")
def show(part_id: int) -> ResponseReturnValue:
    """One part over time."""
    session = reading()
    voids = void_trend(session, part_id, surface=request.args.get("surface", ""))
    findings = finding_trend(session, part_id)
    return render_template(
        "trends/show.html",
        part=find_part(session, part_id),
        parts=part_choices(session),
        voids=voids,
        findings=findings,
        drawings=_drawings(voids) if voids.points else (),
        points=[
            _point_link(point.number, day(point.started_at), point.words) for point in voids.points
        ],
        change_words=[f"{change.words} from build {change.number} on." for change in voids.changes],
        void_rows=_void_rows(voids),
        bars=_bar_rows(part_id, findings),
        bar_rows=_bar_numbers(part_id, findings),
    )


@bp.get("/<int:part_id>/void-fraction.csv")
def void_csv(part_id: int) -> Response:
    """The numbers behind the chart of voids."""
    trend = void_trend(reading(), part_id, surface=request.args.get("surface", ""))
    return send_numbers(void_table(trend), f"part-{part_id}-void-fraction.csv")


@bp.get("/<int:part_id>/void-fraction.<any(svg, png):form>")
def void_picture(part_id: int, form: str) -> Response:
    """The chart of voids as a picture for a report."""
    session = reading()
    trend = void_trend(session, part_id, surface=request.args.get("surface", ""))
    if trend.surface is None:
        raise NotFoundError("chart of voids of part", part_id)
    builds = sum(point.voids is not None for point in trend.points)
    name = find_part(session, part_id).name
    picture = ChartPicture(
        title=f"{name}: void fraction by build, {trend.surface.words}",
        sentence=trend.sentence,
        drawing=_drawings(trend)[-1][1],
        up="Upwards: void fraction, per cent of the surface inspected",
        across="build",
        key=SERIES_KEY if trend.phases and any(phase.chart for phase in trend.phases) else "",
        source=source_line(session, f"{plural(builds, 'build')} measured"),
    )
    return send_picture(picture, f"part-{part_id}-void-fraction", form)


@bp.get("/<int:part_id>/findings.csv")
def finding_csv(part_id: int) -> Response:
    """The numbers behind the bars."""
    trend = finding_trend(reading(), part_id)
    return send_numbers(finding_table(trend), f"part-{part_id}-findings.csv")


@bp.get("/<int:part_id>/findings.<any(svg, png):form>")
def finding_picture(part_id: int, form: str) -> Response:
    """The bars of kinds as a picture for a report."""
    session = reading()
    trend = finding_trend(session, part_id)
    if not trend.bars:
        raise NotFoundError("findings of part", part_id)
    picture = ChartPicture(
        title=f"{find_part(session, part_id).name}: findings by kind",
        sentence=trend.sentence,
        drawing=BarRows(
            tuple((row.title, row.words, row.drawing) for row in _bar_rows(part_id, trend))
        ),
        up="Share of all findings, per cent",
        key="Thick bar: share. Thin line: its 95 % interval (Wilson), each kind for itself.",
        source=source_line(
            session, f"{plural(trend.total, 'finding')} on {plural(trend.builds, 'build')}"
        ),
    )
    return send_picture(picture, f"part-{part_id}-findings", form)


@bp.get("/<int:part_id>/findings/<kind>")
def findings(part_id: int, kind: str) -> ResponseReturnValue:
    """The findings behind one bar."""
    session = reading()
    part = find_part(session, part_id)
    rows = finding_rows(findings_of_kind(session, part_id, kind))
    if not rows:
        find_kind(session, kind)  # or there is no such kind
    return render_template("trends/findings.html", part=part, kind=kind, rows=rows)


def _drawings(trend: VoidTrend) -> list[tuple[str, SeriesDrawing]]:
    return [
        (
            name,
            draw_series(
                [point.voids.value if point.voids else None for point in trend.points],
                [str(point.number) for point in trend.points],
                sheet=sheet,
                limits=[
                    LimitStretch.of(phase.chart, phase.start)
                    for phase in trend.phases
                    if phase.chart
                ],
                outside=[i for i, point in enumerate(trend.points) if point.is_outside],
                changes=[(change.index, change.short) for change in trend.changes],
                write=percent,
            ),
        )
        for name, sheet in (("phone", PHONE), ("desk", DESK))
    ]


def _point_link(number: int, when: str, words: str) -> PointLink:
    return PointLink(url_for("builds.show", number=number), f"Build {number}, {when}: {words}")


def _void_rows(trend: VoidTrend) -> list[NumberRow]:
    rows = []
    for point in trend.points:
        made = point.voids
        rows.append(
            NumberRow(
                url_for("builds.show", number=point.number),
                f"Build {point.number}",
                (
                    measured_percent(made.value) if made else "none",
                    percent_range(made.low, made.high) if made else "",
                    _limits(point.lower, point.upper),
                    day(point.started_at),
                    str(made.photos) if made else "",
                ),
            )
        )
    return rows


def _limits(lower: float | None, upper: float | None) -> str:
    return "" if lower is None or upper is None else percent_range(lower, upper)


def _bar_rows(part_id: int, trend: FindingTrend) -> list[BarRow]:
    return [
        BarRow(
            url_for(".findings", part_id=part_id, kind=bar.key),
            kind_code(bar.key),
            kind_title(bar.key),
            f"{bar.count}, {percent(bar.share)} ({percent_range(bar.low, bar.high)})",
            drawing,
        )
        for bar, drawing in zip(trend.bars, draw_bars(trend.bars), strict=True)
    ]


def _bar_numbers(part_id: int, trend: FindingTrend) -> list[NumberRow]:
    return [
        NumberRow(
            url_for(".findings", part_id=part_id, kind=bar.key),
            kind_title(bar.key),
            (
                plural(bar.count, "finding"),
                percent(bar.share),
                percent_range(bar.low, bar.high),
                percent(bar.running),
            ),
        )
        for bar in trend.bars
    ]
