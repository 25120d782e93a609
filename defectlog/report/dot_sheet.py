"""The dot sheet as a PDF: discs and squares in exact millimetres, to be printed at 100 %."""

from typing import Any

from defectlog.measure.dot_sheet import CHECK_LINE_MM, FIELD_MM, DotField, dot_sheet
from defectlog.report.scale_card import PAPERS, marker_shape
from defectlog.report.typesetting import typeset
from defectlog.units import NBSP, percent

CORNER_MM = 2.0  # from a field out to the corner strokes that show where it ends


def dot_sheet_pdf(paper: str) -> bytes:
    """Draw the dot sheet.

    Parameters
    ----------
    paper : "a4" or "letter"

    Returns
    -------
    bytes
        A PDF of one page of just that size, all of it vectors. Its geometry is that of
        ``measure.dot_sheet``, which the reading of a photo goes by too.
    """
    sheet = dot_sheet(paper)
    width, height = sheet.card.paper_mm
    first = sheet.card.markers[0]
    beside = first.x_mm + first.side_mm * 1.25
    data: dict[str, Any] = {
        "title": f"Dot sheet for {PAPERS[paper]} paper",  # type: ignore[index]
        "paper": (width, height),
        "markers": [marker_shape(marker, 0.0, 0.0) for marker in sheet.card.markers],
        "fields": [_field(field) for field in sheet.fields],
        "corner": CORNER_MM,
        "head": {"x": beside, "y": first.y_mm, "width": width - 2 * beside, "height": 20},
        "foot": {
            "x": beside,
            "y": height - first.y_mm - first.side_mm,
            "width": width - 2 * beside,
            "height": 18,
        },
        "line": {
            "x": sheet.card.ruled_edge.start_mm[0],
            "y": sheet.card.ruled_edge.start_mm[1],
            "length": CHECK_LINE_MM,
        },
        "lines": [
            f"Print at 100{NBSP}% on matt white paper, as finely as the printer can. Lay it flat, "
            "photograph all of it squarely, as you photograph a part.",
        ],
        "below": [
            "The dots of each field cover the share of it that stands above it. Measured shares "
            "tell how far your camera, your light and this method can be trusted together.",
            f"Check line: {CHECK_LINE_MM:g}{NBSP}mm. Ink that spreads makes every dot larger: "
            f"0.02{NBSP}mm all round adds a fourteenth to every share.",
        ],
    }
    return typeset("dot-sheet.typ", data)


def _field(field: DotField) -> dict[str, Any]:
    return {
        "x": field.x_mm,
        "y": field.y_mm,
        "width": FIELD_MM[0],
        "height": FIELD_MM[1],
        "words": f"{field.letter}   {percent(field.printed_fraction, 3)}",
        "discs": [(disc.x_mm, disc.y_mm, disc.d_mm) for disc in field.discs],
    }
