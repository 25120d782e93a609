"""Sizes, directions and shape words of the objects of a mask."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.extent import longest_extent
from defectlog.measure.light import BoolImage

ShapeWord = Literal["round", "long", "irregular"]
FloatArray = NDArray[np.float64]

LONG_FROM = 3.0  # length over breadth
ROUND_TO = 1.6
# A disc fills 1.0 of the circle across its longest extent, an ellipse of 1.6 : 1 0.63.
ROUND_FILL = 0.55


@dataclass(frozen=True, slots=True)
class Shapes:
    """One entry an object, in the order of ``labels`` 1, 2, 3 …

    Lengths in pixels. ``x, y`` is the centroid; ``length`` and ``breadth`` are the axes of
    the ellipse of the same second moments; ``direction_deg`` is that of its long axis,
    anticlockwise from the row, -90 to 90.
    """

    labels: NDArray[np.int32]
    area: FloatArray
    x: FloatArray
    y: FloatArray
    diameter: FloatArray
    longest: FloatArray
    length: FloatArray
    breadth: FloatArray
    direction_deg: FloatArray
    words: tuple[ShapeWord, ...]


def shapes_of(mask: BoolImage, *, corners_join: bool = True) -> Shapes:
    """Size every connected object of a mask.

    Parameters
    ----------
    mask : (M, N) bool
    corners_join : whether pixels that only touch at a corner belong together

    Returns
    -------
    Shapes
        ``area`` counts pixels; ``longest`` reaches from outer side to outer side of the
        furthest pixels.
    """
    connectivity = 8 if corners_join else 4
    count, labels, stats, centres = cv2.connectedComponentsWithStats(
        mask.astype(np.uint8), connectivity=connectivity, ltype=cv2.CV_32S
    )
    area = stats[1:, cv2.CC_STAT_AREA].astype(np.float64)
    x, y = centres[1:, 0], centres[1:, 1]
    at = np.flatnonzero(mask)
    label = labels.ravel()[at].astype(np.int64) - 1
    rows, columns = np.divmod(at, mask.shape[1])
    dx, dy = columns - x[label], rows - y[label]
    n = count - 1
    # A pixel is a square of side 1, with a second moment of 1/12 of its own.
    xx = np.bincount(label, dx * dx, minlength=n) / area + 1 / 12
    yy = np.bincount(label, dy * dy, minlength=n) / area + 1 / 12
    xy = np.bincount(label, dx * dy, minlength=n) / area
    middle, swing = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    length, breadth = 4 * np.sqrt(middle + swing), 4 * np.sqrt(np.maximum(middle - swing, 0))
    longest = _longest(labels, stats, length)
    words = tuple(_word(*sizes) for sizes in zip(area, longest, length, breadth, strict=True))
    return Shapes(
        labels=labels,
        area=area,
        x=x,
        y=y,
        diameter=2 * np.sqrt(area / np.pi),
        longest=longest,
        length=length,
        breadth=breadth,
        direction_deg=np.degrees(-np.arctan2(2 * xy, xx - yy) / 2),
        words=words,
    )


def _longest(labels: NDArray[np.int32], stats: NDArray[np.int32], length: FloatArray) -> FloatArray:
    """Largest distance across each object, from the outer sides of its pixels."""
    longest = np.empty(len(length))
    for k, (left, top, width, height, area) in enumerate(stats[1:]):
        if width == 1 or height == 1 or area < 4:
            longest[k] = np.hypot(width, height) if min(width, height) > 1 else max(width, height)
            continue
        box = labels[top : top + height, left : left + width] == k + 1
        # The furthest points are among the first and last pixel of each row.
        rows = np.arange(height)
        first, last = box.argmax(axis=1), width - 1 - box[:, ::-1].argmax(axis=1)
        ends = np.concatenate([np.column_stack([first, rows]), np.column_stack([last, rows])])
        longest[k] = longest_extent(ends) + 1.0
    return longest


def _word(area: float, longest: float, length: float, breadth: float) -> ShapeWord:
    elongation = length / max(breadth, 1e-9)
    if elongation >= LONG_FROM and longest >= 4:
        return "long"
    # Of a few pixels no more can be said than that they are a speck.
    fill = area / (np.pi / 4 * longest**2)
    if area < 12 or (elongation <= ROUND_TO and fill >= ROUND_FILL):
        return "round"
    return "irregular"
