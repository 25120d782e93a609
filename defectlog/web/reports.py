"""What is handed out of a build: the demould report."""

from datetime import UTC, datetime

from flask import Blueprint, Response

from defectlog.bench.demould import demould_pdf
from defectlog.web.records import reading, store

bp = Blueprint("reports", __name__)


@bp.get("/builds/<int:number>/demould-report.pdf")
def demould(number: int) -> Response:
    """The demould report of a build, as PDF."""
    return Response(
        demould_pdf(reading(), store(), number, at=datetime.now(UTC)),
        mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="demould-report-{number}.pdf"'},
    )
