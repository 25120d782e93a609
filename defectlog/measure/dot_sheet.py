"""The dot sheet: fields of printed discs whose share of the area is known, to check measuring by.

No open set of laminate photographs with known void fractions exists. What a workshop can do is to
photograph something of known fraction with its own camera, in its own light.
"""

import math
import random
from dataclasses import dataclass
from functools import cache

import numpy as np

from defectlog.measure.lengths.card import A4_MM, LETTER_MM, CardLayout, CardMarker, RuledEdge
from defectlog.measure.lengths.scale import Point, Polygon

# The share of each field's area that its discs take, as nearly as whole discs can.
FRACTIONS = (0.0, 0.005, 0.01, 0.02, 0.05, 0.10)
# Diameters in mm, largest first, and the share of the dark area that falls to each of them.
DIAMETERS_MM = (3.0, 2.0, 1.2, 0.8, 0.5, 0.3, 0.2)
AREA_SHARES = (0.28, 0.26, 0.20, 0.14, 0.08, 0.03, 0.01)

FIELD_MM = (80.0, 58.0)
BORDER_MM = 1.0  # free of discs along the edge of a field, so that a slight shift cuts none
GAP_MM = 0.5  # at least, between one disc and the next
MARGIN_MM = 12.0
MARKER_MM = 20.0
CHECK_LINE_MM = 120.0
SEED = 2000  # of the first field; the next ones count on from it

_FIRST_IDS = {"a4": 40, "letter": 44}
_PAPERS_MM = {"a4": A4_MM, "letter": LETTER_MM}
DOT_PAPERS = tuple(_PAPERS_MM)


@dataclass(frozen=True, slots=True)
class Disc:
    """One printed disc: centre and diameter in mm, from the top left corner of the sheet."""

    x_mm: float
    y_mm: float
    d_mm: float


@dataclass(frozen=True, slots=True)
class DotField:
    """One field of discs: its letter, where it stands on the sheet, and all its discs."""

    letter: str
    x_mm: float
    y_mm: float
    discs: tuple[Disc, ...]

    @property
    def printed_fraction(self) -> float:
        """Share of the field that the discs cover, 0–1: the sum of π d² / 4 over its area."""
        return self.swollen_fraction(0.0)

    def swollen_fraction(self, ink_mm: float) -> float:
        """The share if every disc came out larger by so much all round."""
        dark = sum(math.pi * (disc.d_mm + 2 * ink_mm) ** 2 / 4 for disc in self.discs)
        return dark / (FIELD_MM[0] * FIELD_MM[1])

    @property
    def outline_mm(self) -> Polygon:
        """The corners of the field, clockwise from the top left one."""
        x, y, (width, height) = self.x_mm, self.y_mm, FIELD_MM
        return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


@dataclass(frozen=True, slots=True)
class DotSheet:
    """A sheet of fields. ``card`` holds its markers, by which a photo of it finds its scale."""

    paper: str
    card: CardLayout
    fields: tuple[DotField, ...]


@cache
def dot_sheet(paper: str) -> DotSheet:
    """Lay out the sheet for one size of paper.

    Parameters
    ----------
    paper : "a4" or "letter"

    Returns
    -------
    DotSheet
        The same discs at the same places every time: they are placed by a seeded generator
        whose stream Python promises to keep (``random.Random.random``).

    Raises
    ------
    KeyError
        If there is no sheet for such paper.
    """
    width, height = _PAPERS_MM[paper]
    left, right = MARGIN_MM, width - MARGIN_MM - MARKER_MM
    top, low = MARGIN_MM, height - MARGIN_MM - MARKER_MM
    places = ((left, top), (right, top), (left, low), (right, low))
    markers = tuple(
        CardMarker(_FIRST_IDS[paper] + n, x, y, MARKER_MM) for n, (x, y) in enumerate(places)
    )
    line_from = (width - CHECK_LINE_MM) / 2
    card = CardLayout(
        f"dots-{paper}",
        paper_mm=(width, height),
        at_mm=(0.0, 0.0),
        size_mm=(width, height),
        markers=markers,
        ruled_edge=RuledEdge((line_from, height - 9), (line_from + CHECK_LINE_MM, height - 9)),
    )
    columns, rows = 2, len(FRACTIONS) // 2
    between = 10.0
    first_x = (width - columns * FIELD_MM[0] - (columns - 1) * between) / 2
    free = low - (top + MARKER_MM) - rows * FIELD_MM[1]
    step = free / (rows + 1)
    fields = tuple(
        _field(
            "ABCDEF"[n],
            fraction,
            first_x + n % columns * (FIELD_MM[0] + between),
            top + MARKER_MM + step + n // columns * (FIELD_MM[1] + step),
            random.Random(SEED + n),
        )
        for n, fraction in enumerate(FRACTIONS)
    )
    return DotSheet(paper, card, fields)


def _field(letter: str, fraction: float, x: float, y: float, chance: random.Random) -> DotField:
    """A field of the diameters it needs, the largest placed first, none near another."""
    width, height = FIELD_MM
    placed = np.empty((0, 3))
    for d in _diameters(fraction):
        reach = BORDER_MM + d / 2
        while True:
            # A hundredth of a millimetre is what the sheet is drawn to.
            place = (
                round(reach + chance.random() * (width - 2 * reach), 2),
                round(reach + chance.random() * (height - 2 * reach), 2),
            )
            apart = np.hypot(*(placed[:, :2] - place).T) - (placed[:, 2] + d) / 2
            if (apart >= GAP_MM).all():
                break
        placed = np.vstack([placed, (*place, d)])
    discs = tuple(Disc(x + float(u), y + float(v), float(d)) for u, v, d in placed)
    return DotField(letter, x, y, discs)


def _diameters(fraction: float) -> list[float]:
    """As many discs of each diameter as come nearest to the fraction, the largest first."""
    wanted = fraction * FIELD_MM[0] * FIELD_MM[1]
    diameters: list[float] = []
    due = dark = 0.0
    for d, share in zip(DIAMETERS_MM, AREA_SHARES, strict=True):
        # What whole discs leave over or take too much is passed on to the next smaller size.
        due += share * wanted
        count = max(0, round((due - dark) / _area(d)))
        dark += count * _area(d)
        diameters += [d] * count
    return diameters


def _area(d_mm: float) -> float:
    return math.pi * d_mm**2 / 4


def nearest_disc(field: DotField, place_mm: Point) -> tuple[int, float] | None:
    """The disc nearest to a place of the sheet: its index and how far off its centre lies."""
    if not field.discs:
        return None
    x, y = place_mm
    away = [math.hypot(disc.x_mm - x, disc.y_mm - y) for disc in field.discs]
    index = min(range(len(away)), key=away.__getitem__)
    return index, away[index]
