"""Charts that leave the page: as SVG and PNG, and their numbers as CSV."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from flask import Response
from sqlalchemy.orm import Session

from defectlog import __version__
from defectlog.bench.parts import workshop_name
from defectlog.report.chart_picture import ChartPicture, chart_png, chart_svg
from defectlog.web.words import day

# For routes: ".../void-fraction.<any(svg, png):form>".
SVG, PNG = "svg", "png"


@dataclass(frozen=True, slots=True)
class PointLink:
    """Where a point of a chart leads, and its name."""

    url: str
    words: str


def send_picture(picture: ChartPicture, name: str, form: str) -> Response:
    """Hand a chart out as a file, ``name`` without its ending, ``form`` ``"svg"`` or ``"png"``."""
    if form == SVG:
        return _file(chart_svg(picture).encode(), "image/svg+xml", f"{name}.svg")
    return _file(chart_png(picture), "image/png", f"{name}.png")


def send_numbers(rows: Iterable[Sequence[object]], name: str) -> Response:
    """Hand the numbers of a chart out as CSV, ``name`` with its ending."""
    out = io.StringIO()
    csv.writer(out).writerows([_cell(cell) for cell in row] for row in rows)
    return _file(out.getvalue().encode(), "text/csv; charset=utf-8", name)


def source_line(session: Session, what: str) -> str:
    """Whose records a picture shows, which of them (``"23 builds of the locker door"``), when."""
    shop = workshop_name(session)
    return f"{shop}: {what}. Drawn {day(datetime.now(UTC))} with defectlog {__version__}."


def _file(content: bytes, content_type: str, name: str) -> Response:
    response = Response(content, content_type=content_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    response.headers["Cache-Control"] = "no-store"
    # Opened by itself, the file may load nothing and run nothing.
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


def _cell(value: object) -> object:
    """Text as text: a spreadsheet must not take what a person typed for a formula."""
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return "'" + value
    return value
