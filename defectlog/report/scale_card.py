"""The scale card as a PDF: lines and squares in exact millimetres, to be printed at 100 %."""

from typing import Any, Literal

from defectlog.measure.lengths.card import (
    CARD_LAYOUTS,
    CHECK_LINE_MM,
    CardLayout,
    CardMarker,
    marker_cells,
)
from defectlog.report.typesetting import typeset
from defectlog.units import NBSP

Paper = Literal["a4", "letter", "id1"]
PAPERS: dict[Paper, str] = {"a4": "A4", "letter": "US Letter", "id1": "Bank-card size"}

CHECK_WORDS = "within a quarter of a millimetre"

_TICK_MM, _MIDDLE_TICK_MM, _LONG_TICK_MM = 2.2, 3.0, 4.0


def scale_card_pdf(paper: Paper) -> bytes:
    """Draw our scale card.

    Parameters
    ----------
    paper : "a4", "letter" or "id1"
        The sheet it is printed on; "id1" is a card of the size of a bank card, without a sheet.

    Returns
    -------
    bytes
        A PDF of one page of just that size, all of it vectors. The geometry is that of
        ``measure.card``, which the finder of the card reads too.
    """
    layout = CARD_LAYOUTS[paper]
    left, top = layout.at_mm
    on_sheet = paper != "id1"
    data: dict[str, Any] = {
        "title": f"Scale card for {PAPERS[paper]} paper" if on_sheet else "Scale card",
        "paper": layout.paper_mm,
        "card": {"x": left, "y": top, "width": layout.size_mm[0], "height": layout.size_mm[1]},
        "markers": [marker_shape(marker, left, top) for marker in layout.markers],
        "ticks": _ticks(layout),
        "words": _card_words(layout),
        "on_sheet": on_sheet,
        "check_mm": CHECK_LINE_MM,
        "steps": _steps() if on_sheet else [],
    }
    return typeset("scale-card.typ", data)


def marker_shape(marker: CardMarker, left: float, top: float) -> dict[str, Any]:
    """A marker as runs of black cells, (x, y, width, height) in mm from its own corner."""
    cells = marker_cells(marker.id)
    cell = marker.side_mm / len(cells)
    runs = []
    for row, line in enumerate(cells):
        column = 0
        while column < len(line):
            start = column
            while column < len(line) and line[column]:
                column += 1
            if column > start:
                runs.append((start * cell, row * cell, (column - start) * cell, cell))
            column += 1
    return {"x": left + marker.x_mm, "y": top + marker.y_mm, "runs": runs}


def _edge_mm(layout: CardLayout) -> float:
    return layout.ruled_edge.end_mm[0] - layout.ruled_edge.start_mm[0]


def _ticks(layout: CardLayout) -> list[dict[str, Any]]:
    """Ticks of the ruled edge: where on the page, how long, and the number over a long one."""
    edge = layout.ruled_edge
    ticks = []
    last = round(_edge_mm(layout) / edge.tick_mm)
    for number in range(last + 1):
        is_long = number % edge.long_tick_every == 0 or number == last
        is_middle = number % edge.long_tick_every == edge.long_tick_every // 2
        ticks.append(
            {
                "x": layout.at_mm[0] + edge.start_mm[0] + number * edge.tick_mm,
                "y": layout.at_mm[1] + edge.start_mm[1],
                "length": _LONG_TICK_MM if is_long else _MIDDLE_TICK_MM if is_middle else _TICK_MM,
                "number": f"{number * edge.tick_mm:g}" if is_long else "",
            }
        )
    return ticks


def _card_words(layout: CardLayout) -> dict[str, Any]:
    """What stands on the card itself, in the room between the markers."""
    first, second, third, _ = layout.markers
    white = first.side_mm / 4
    left = first.x_mm + first.side_mm + white
    return {
        "x": layout.at_mm[0] + left,
        "y": layout.at_mm[1] + first.y_mm,
        "width": second.x_mm - white - left,
        "height": third.y_mm + third.side_mm - first.y_mm,
        "title": "Scale card",
        "lines": [
            "Face up, flat on the part, any way round.",
            f"Printed true if this lower edge reads {_edge_mm(layout):g}{NBSP}mm on a steel rule; "
            f"if not, print again at 100{NBSP}%.",
        ],
    }


def _steps() -> list[str]:
    return [
        f"Print this page at 100{NBSP}%, also called actual size. Fit to page makes it too small.",
        f"Lay a steel rule on the two check lines: each must read {CHECK_LINE_MM:g}{NBSP}mm, "
        f"{CHECK_WORDS}. If one does not, set the printer to 100{NBSP}% and print again.",
        "Glue the page to something stiff and flat, then cut the card out along its thin outline. "
        "Keep the white round the black squares; without it they are not found.",
        "Lay the card face up on the part, flat in the plane of the surface you photograph. Any "
        "way round will do. Where the part curves, lay it where the defect is.",
        "Hold the camera squarely over it, with all four squares in the picture and no glare or "
        "fingers on them. What the card covers is left out of the measuring.",
        "A card that is stained, bent or torn goes in the bin: print a new one.",
    ]
