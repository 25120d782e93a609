"""What the workshop prints and how true it comes out: the print check and the dot sheet."""

from collections.abc import Mapping
from datetime import UTC, datetime

from flask import Blueprint, Response, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench import dots, print_check
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.measure.dot_reading import DotReading
from defectlog.measure.dot_sheet import DOT_PAPERS
from defectlog.measure.lengths.card import CHECK_LINE_MM
from defectlog.report.dot_sheet import dot_sheet_pdf
from defectlog.units import read_number
from defectlog.web.bounds import PHOTO_BYTES, takes_up_to
from defectlog.web.faults import status_of
from defectlog.web.once import save_once
from defectlog.web.parts import by_field
from defectlog.web.records import reading

bp = Blueprint("printed", __name__, url_prefix="/workshop")

PAPERS = {"a4": "On A4", "letter": "On Letter"}
_LENGTHS = (("across_mm", "Across"), ("down_mm", "Down"))


@bp.get("/print-check")
def check() -> ResponseReturnValue:
    """Whether the printer prints true to size."""
    return _check_page({}, {})


@bp.post("/print-check")
def save_check() -> ResponseReturnValue:
    """Keep what the two check lines read."""

    def save(session: Session) -> str:
        lengths = _read_lengths()
        kept = print_check.save_print_check(session, *lengths, datetime.now(UTC))
        flash(f"Kept: {print_check.check_words(kept)}")
        return url_for(".check")

    try:
        return save_once(save)
    except (FieldError, FormError) as error:
        return _check_page(request.form, by_field(error)), 400


@bp.post("/print-check/forget")
def forget_check() -> ResponseReturnValue:
    """Take the check back, as for another printer."""

    def save(session: Session) -> str:
        print_check.forget_print_check(session, datetime.now(UTC))
        flash("The print check is taken back. Scales found before keep what they had.")
        return url_for(".check")

    return save_once(save)


def _read_lengths() -> list[float]:
    lengths, faults = [], []
    for name, label in _LENGTHS:
        try:
            lengths.append(read_number(request.form.get(name, ""), field=name, label=label))
        except FieldError as fault:
            faults.append(fault)
    if faults:
        raise FormError(faults)
    return lengths


def _check_page(typed: Mapping[str, str], errors: Mapping[str, str]) -> str:
    kept = print_check.print_check(reading())
    return render_template(
        "workshop/print_check.html",
        kept=kept,
        words=kept and print_check.check_words(kept),
        drawn_mm=CHECK_LINE_MM,
        typed=typed,
        errors=errors,
    )


@bp.get("/dot-sheet")
def dot_sheet() -> ResponseReturnValue:
    """The dot sheet to print, and where to send a photo of it."""
    return _dot_page()


@bp.get("/dot-sheet/<paper>.pdf")
def dot_sheet_file(paper: str) -> Response:
    """The dot sheet on one size of paper, to print at 100 %."""
    if paper not in DOT_PAPERS:
        raise NotFoundError("dot sheet for paper", paper)
    return Response(
        dot_sheet_pdf(paper),
        mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="dot-sheet-{paper}.pdf"'},
    )


@bp.post("/dot-sheet")
@takes_up_to(PHOTO_BYTES)
def measure_dots() -> ResponseReturnValue:
    """Measure a photo of the dot sheet. Nothing is kept of it."""
    photo = request.files.get("photo")
    try:
        if photo is None or not photo.filename:
            raise FieldError("photo", "No photo was chosen", "choose one, or take one")
        return _dot_page(dots.measure_dots(photo.stream))
    except DefectlogError as error:
        return _dot_page(error=str(error)), status_of(error)


def _dot_page(read: DotReading | None = None, error: str = "") -> str:
    return render_template(
        "workshop/dot_sheet.html",
        papers=PAPERS.items(),
        summary=read and dots.summary_words(read),
        fields=read and [(f.letter, f.is_covered, dots.field_words(f)) for f in read.fields],
        sizes=read and [dots.size_words(size) for size in read.diameters],
        error=error,
    )
