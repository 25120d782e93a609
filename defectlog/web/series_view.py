"""A series laid out for a page: drawings, links of the points, rows of the table."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import url_for

from defectlog.bench.series import Series, SeriesPoint
from defectlog.charts import Phase
from defectlog.charts.drawing import DESK, PHONE, LimitStretch, SeriesDrawing, draw_series
from defectlog.units import plural
from defectlog.web.words import day

Drawings = list[tuple[str, SeriesDrawing]]
_SHEETS = (("phone", PHONE), ("desk", DESK))
# More lessons than this stand on the chart by number, in the list below it in words.
_MOST_WORDS = 4


@dataclass(frozen=True, slots=True)
class PointLink:
    """Where a point leads, and its name."""

    url: str
    words: str


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One row of the table under a chart."""

    url: str
    words: str
    cells: tuple[str, ...]


def drawings(series: Series, chart: str = "values") -> Drawings:
    """The chart of the values, of their moving average (``drift``) or of their ``steps``."""
    of = {"values": series.charted, "drift": series.drift, "steps": series.steps}[chart]
    if of is None or not series.points:
        return []
    write = series.steps.write if chart == "steps" and series.steps else series.result.write_tick
    outside = (
        [index for index, point in enumerate(series.points) if point.is_outside]
        if chart == "values"
        else of.outside
    )
    gap = series.charted.gap
    return [
        (
            name,
            draw_series(
                of.values,
                [str(point.number) for point in series.points],
                sheet=sheet,
                limits=_limits(of.phases),
                outside=outside,
                changes=_lines(series),
                breaks=() if gap is None else (gap,),
                write=write,
            ),
        )
        for name, sheet in _SHEETS
    ]


def point_links(series: Series, parts: Mapping[int, str]) -> list[PointLink]:
    """Every point leads to its build, one outside to what was different about that build.

    ``parts`` are names by number, given where the set is of several parts.
    """
    told = {point.number for point in told_apart(series)}
    links = []
    for point in series.points:
        url = f"#build-{point.number}" if point.number in told else _build_url(point)
        runs = f"; {'; '.join(point.runs)}" if point.runs else ""
        links.append(PointLink(url, f"{_name(point, parts)}: {point.words}{runs}"))
    return links


def other_links(
    series: Series, parts: Mapping[int, str], chart: str, words: str
) -> list[PointLink]:
    """The points of the moving average or of the steps; ``words`` say what their values are."""
    of = series.drift if chart == "drift" else series.steps
    if of is None:
        return []
    write = series.steps.write if chart == "steps" and series.steps else series.result.write
    return [
        PointLink(
            _build_url(point),
            f"{_name(point, parts)}: {words} {'none' if value is None else write(value)}"
            + (", outside the limits" if index in of.outside else ""),
        )
        for index, (point, value) in enumerate(zip(series.points, of.values, strict=True))
    ]


def told_apart(series: Series) -> tuple[SeriesPoint, ...]:
    """The newest builds outside their limits, for which was looked up what was different."""
    return tuple(point for point in series.outside if point.differs is not None)


def line_words(series: Series) -> list[str]:
    """The lines of the chart as sentences, in order."""
    said = [(one.index, f"{one.words} from build {one.number} on.") for one in series.changes]
    said += [
        (
            one.index,
            f"{_code(series, place)}{'Lesson' if len(one.lessons) == 1 else 'Lessons'} first "
            f"applied on build {one.number}: {one.words}.",
        )
        for place, one in enumerate(series.lessons)
    ]
    return [words for _, words in sorted(said, key=lambda line: line[0])]


def number_rows(series: Series) -> tuple[tuple[str, ...], list[NumberRow]]:
    """Headings and rows of the table under the chart."""
    result = series.result
    headings = ["Build", result.title, "Limits", "Started"]
    extra = _own_columns(series)
    headings[2:2] = [heading for heading, _ in extra]
    rows = []
    for index, point in enumerate(series.points):
        limits = (
            ""
            if point.lower is None or point.upper is None
            else result.write_range(point.lower, point.upper)
        )
        rows.append(
            NumberRow(
                _build_url(point),
                f"Build {point.number}",
                (
                    result.write(point.made.value) if point.made else "none",
                    *(cells[index] for _, cells in extra),
                    limits + (", outside" if point.is_outside else ""),
                    day(point.started_at),
                ),
            )
        )
    return tuple(headings), rows


def _own_columns(series: Series) -> list[tuple[str, list[str]]]:
    """The columns that only some results have."""
    ones = [point.made for point in series.points]
    write = series.result.write_range
    columns = []
    if any(one and one.low is not None for one in ones):
        cells = [
            write(one.low, one.high) if one and one.low is not None and one.high is not None else ""
            for one in ones
        ]
        columns.append(("Spread, 95 %", cells))
    if series.result.per_area:
        columns.append(
            ("Counted", [f"{one.count} on {one.size:.3g} dm²" if one else "" for one in ones])
        )
    if series.result.of_surface:
        columns.append(("Photos", [plural(one.photos, "photo") if one else "" for one in ones]))
    return columns


def _lines(series: Series) -> list[tuple[int, str]]:
    lines = [(one.index, one.short) for one in series.changes]
    lines += [
        (one.index, _code(series, place).removesuffix(": ") or one.short)
        for place, one in enumerate(series.lessons)
    ]
    if series.charted.gap is not None:
        lines.append((series.charted.gap, f"{series.charted.left_out} not drawn"))
    return sorted(lines, key=lambda line: line[0])


def _code(series: Series, place: int) -> str:
    """``L3: `` where there are too many lessons for their words to stand on the chart."""
    return f"L{place + 1}: " if len(series.lessons) > _MOST_WORDS else ""


def _limits(phases: Sequence[Phase]) -> list[LimitStretch]:
    return [LimitStretch.of(phase.chart, phase.start) for phase in phases if phase.chart]


def _name(point: SeriesPoint, parts: Mapping[int, str]) -> str:
    part = f" ({parts[point.part_id]})" if point.part_id in parts else ""
    return f"Build {point.number}{part}, {day(point.started_at)}"


def _build_url(point: SeriesPoint) -> str:
    return url_for("builds.show", number=point.number)
