"""The scale card: where its markers are printed."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.lengths.scale import Point, Polygon

# ISO/IEC 7810, format ID-1: the size of a bank card.
ID1_MM = (85.60, 53.98)
A4_MM = (210.0, 297.0)
LETTER_MM = (215.9, 279.4)

# Check lines stand on whole sheets only. A quarter of a millimetre on this length is the 0.2 % by
# which a checked print is taken to be true to size.
CHECK_LINE_MM = 120.0

MARKER_CELLS = 6  # a 4 x 4 pattern inside a black border one cell wide
DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


@dataclass(frozen=True, slots=True)
class CardMarker:
    """One square marker: its number and its top left corner on the card, in mm."""

    id: int
    x_mm: float
    y_mm: float
    side_mm: float

    @property
    def corners_mm(self) -> Polygon:
        """Corners clockwise from the top left one, as the marker finder gives them."""
        x, y, s = self.x_mm, self.y_mm, self.side_mm
        return ((x, y), (x + s, y), (x + s, y + s), (x, y + s))


@dataclass(frozen=True, slots=True)
class RuledEdge:
    """Ticks along one edge of the card, to be checked against a steel rule after printing."""

    start_mm: Point
    end_mm: Point
    tick_mm: float = 1.0
    long_tick_every: int = 10


@dataclass(frozen=True, slots=True)
class CardLayout:
    """One size of our scale card.

    Lengths are mm; x to the right and y down from the card's top left corner. The card is
    printed on ``paper_mm`` with its top left corner at ``at_mm`` and cut out along
    ``outline_mm``. Every marker keeps a quarter of its side white all round. The marker
    numbers differ from size to size, so that the finder knows which card lies there.
    """

    name: str
    paper_mm: tuple[float, float]
    at_mm: Point
    size_mm: tuple[float, float]
    markers: tuple[CardMarker, ...]
    ruled_edge: RuledEdge

    @property
    def outline_mm(self) -> Polygon:
        """The cut line, clockwise from the top left corner."""
        width, height = self.size_mm
        return ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))


def _four(first_id: int, side: float, left: float, right: float, top: float, low: float):
    """Four markers, numbered left to right and top to bottom."""
    places = ((left, top), (right, top), (left, low), (right, low))
    return tuple(CardMarker(first_id + n, x, y, side) for n, (x, y) in enumerate(places))


def _sheet_card(name: str, paper_mm: tuple[float, float], first_id: int) -> CardLayout:
    """A 100 x 80 mm card of 20 mm markers, in the upper middle of a sheet.

    The markers stand as far apart as the card allows: the scale then holds further out
    over the picture than with four markers close together.
    """
    return CardLayout(
        name,
        paper_mm,
        at_mm=((paper_mm[0] - 100) / 2, 40.0),
        size_mm=(100.0, 80.0),
        markers=_four(first_id, 20.0, 6.0, 74.0, 6.0, 46.0),
        ruled_edge=RuledEdge((5.0, 80.0), (95.0, 80.0)),
    )


CARD_LAYOUTS: dict[str, CardLayout] = {
    "a4": _sheet_card("a4", A4_MM, 10),
    "letter": _sheet_card("letter", LETTER_MM, 20),
    # The size of a bank card, so that it can be stuck on one and stay flat.
    "id1": CardLayout(
        "id1",
        ID1_MM,
        at_mm=(0.0, 0.0),
        size_mm=ID1_MM,
        markers=_four(30, 14.0, 4.0, ID1_MM[0] - 18.0, 4.0, 30.0),
        ruled_edge=RuledEdge((5.0, ID1_MM[1]), (80.0, ID1_MM[1])),
    ),
}


def marker_cells(marker_id: int) -> tuple[tuple[bool, ...], ...]:
    """The 6 x 6 cells of a marker, border included, row by row; True is printed black."""
    pattern = cv2.aruco.generateImageMarker(DICTIONARY, marker_id, MARKER_CELLS, borderBits=1)
    return tuple(tuple(bool(cell) for cell in row) for row in np.asarray(pattern) < 128)
