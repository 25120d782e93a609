"""The printed scale card as it lies in the plane of the surface."""

from functools import lru_cache
from math import cos, radians, sin

import cv2
import numpy as np

from defectlog.demo.spec import LaidCard, Outline
from defectlog.demo.weave import Bytes
from defectlog.measure.lengths.card import CARD_LAYOUTS, CardLayout, marker_cells

_PX_PER_MM = 24
_INK = 5  # linear light of printed black; paper is 255


def card_picture(card: LaidCard) -> tuple[Bytes, Outline]:
    """The card's print, linear light 0–255, and where its corners lie, in mm of the part."""
    width, height = CARD_LAYOUTS[card.layout].size_mm
    a = radians(card.turn_deg)
    x0, y0 = card.centre_mm
    corners = tuple(
        (x0 + x * cos(a) - y * sin(a), y0 + x * sin(a) + y * cos(a))
        for x, y in (
            (-width / 2, -height / 2),
            (width / 2, -height / 2),
            (width / 2, height / 2),
            (-width / 2, height / 2),
        )
    )
    return _printed(card.layout), corners


@lru_cache(maxsize=4)
def _printed(name: str) -> Bytes:
    layout = CARD_LAYOUTS[name]
    width, height = (round(side * _PX_PER_MM) for side in layout.size_mm)
    picture = np.full((height, width), 255, np.uint8)
    for marker in layout.markers:
        cells = np.where(np.asarray(marker_cells(marker.id)), _INK, 255).astype(np.uint8)
        left, top, side = (
            round(v * _PX_PER_MM) for v in (marker.x_mm, marker.y_mm, marker.side_mm)
        )
        picture[top : top + side, left : left + side] = cv2.resize(
            cells, (side, side), interpolation=cv2.INTER_NEAREST
        )
    _ticks(picture, layout)
    _words(picture, layout)
    return picture


def _ticks(picture: Bytes, layout: CardLayout) -> None:
    edge = layout.ruled_edge
    for number in range(round((edge.end_mm[0] - edge.start_mm[0]) / edge.tick_mm) + 1):
        x = round((edge.start_mm[0] + number * edge.tick_mm) * _PX_PER_MM)
        long = 4.0 if number % edge.long_tick_every == 0 else 2.2
        foot = picture.shape[0]
        picture[foot - round(long * _PX_PER_MM) : foot, x - 2 : x + 2] = _INK


def _words(picture: Bytes, layout: CardLayout) -> None:
    """The title, and the small print as far as a camera makes it out: grey lines."""
    first, second = layout.markers[:2]
    white = first.side_mm / 4
    left = round((first.x_mm + first.side_mm + white) * _PX_PER_MM)
    right = round((second.x_mm - white) * _PX_PER_MM)
    top = round((first.y_mm + 4) * _PX_PER_MM)
    cv2.putText(
        picture, "Scale card", (left, top), cv2.FONT_HERSHEY_DUPLEX, 3.6, _INK, 8, cv2.LINE_AA
    )
    for line, share in enumerate((1.0, 0.7, 0.0, 0.95, 1.0, 0.45)):
        y = top + round((3.5 + 2.4 * line) * _PX_PER_MM)
        far = left + round((right - left) * share)
        for x in range(left, far, 20):
            picture[y : y + 26, x : x + 13] = 120
