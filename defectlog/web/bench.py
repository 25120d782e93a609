"""The Bench: what is in progress, what needs a decision, which trials go on, which lessons wait."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from defectlog.bench.overview import Overview, overview
from defectlog.units import plural
from defectlog.web.build_rows import build_rows, finding_rows
from defectlog.web.records import reading

bp = Blueprint("bench", __name__)

MOST = 12  # lines of each list; the rest is a tap away


@bp.get("/")
def index() -> ResponseReturnValue:
    """The start page."""
    seen = overview(reading())
    return render_template(
        "bench/index.html",
        summary=_summary(seen),
        has_parts=seen.has_parts,
        findings=finding_rows(seen.to_decide[:MOST]),
        findings_left=max(0, len(seen.to_decide) - MOST),
        builds=build_rows(seen.in_progress[:MOST]),
        builds_left=max(0, len(seen.in_progress) - MOST),
        has_builds=seen.has_builds,
        lessons=seen.lessons_due[:MOST],
        trials=seen.trials[:MOST],
    )


def _summary(seen: Overview) -> str:
    """The day in one sentence."""
    if not seen.has_parts:
        return "An empty workshop."
    counts = [
        plural(len(rows), one, many)
        for rows, one, many in (
            (seen.to_decide, "finding to decide", "findings to decide"),
            (seen.in_progress, "build in progress", "builds in progress"),
            (seen.trials, "trial running", "trials running"),
            (
                [lesson for _build, due in seen.lessons_due for lesson in due],
                "lesson waiting for an answer",
                "lessons waiting for an answer",
            ),
        )
        if rows
    ]
    return (", ".join(counts) or "Nothing waits") + "."
