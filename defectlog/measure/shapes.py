"""Sizes, directions and shape words of the objects of a mask."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import BoolImage
from defectlog.measure.pixels import IndexArray, edge_of, pixels_of

ShapeWord = Literal["round", "long", "irregular"]
FloatArray = NDArray[np.float64]

LONG_FROM = 3.0  # length over breadth
ROUND_TO = 1.6
# A disc fills 1.0 of the circle across its longest extent, an ellipse of 1.6 : 1 0.63.
ROUND_FILL = 0.55
DIRECTIONS = 32


@dataclass(frozen=True, slots=True)
class Shapes:
    """One entry an object.

    ``at`` are the objects' pixels as indices of the flattened mask, ``label`` the object, from
    0, each is of. Lengths in pixels. ``x, y`` is the centroid; ``length`` and ``breadth`` are
    the axes of the ellipse of the same second moments; ``direction_deg`` is that of its long
    axis, anticlockwise from the row, -90 to 90.
    """

    at: IndexArray
    label: NDArray[np.int32]
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
    count, labels = cv2.connectedComponents(
        mask.view(np.uint8), connectivity=8 if corners_join else 4, ltype=cv2.CV_32S
    )
    columns = mask.shape[1]
    at = pixels_of(mask)
    label = labels.ravel()[at] - 1
    rim = edge_of(mask, at)
    return sized(at, label, at[rim], label[rim], count=count - 1, columns=columns)


def sized(
    at: IndexArray,
    label: NDArray[np.int32],
    edge: IndexArray,
    edge_label: NDArray[np.int32],
    *,
    count: int,
    columns: int,
) -> Shapes:
    """Size objects from their pixels and from those along their edges."""
    n = count
    rows, across = np.divmod(at, columns)
    area = np.bincount(label, minlength=n).astype(np.float64)
    x = np.bincount(label, across, minlength=n) / area
    y = np.bincount(label, rows, minlength=n) / area
    dx, dy = across - x[label], rows - y[label]
    # A pixel is a square of side 1, with a second moment of 1/12 of its own.
    xx = np.bincount(label, dx * dx, minlength=n) / area + 1 / 12
    yy = np.bincount(label, dy * dy, minlength=n) / area + 1 / 12
    xy = np.bincount(label, dx * dy, minlength=n) / area
    middle, swing = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    length, breadth = 4 * np.sqrt(middle + swing), 4 * np.sqrt(np.maximum(middle - swing, 0))
    edge_rows, edge_across = np.divmod(edge, columns)
    longest = _longest(edge_label, edge_across - x[edge_label], edge_rows - y[edge_label], n)
    words = tuple(
        _word(*sizes)
        for sizes in zip(*(v.tolist() for v in (area, longest, length, breadth)), strict=True)
    )
    return Shapes(
        at=at,
        label=label,
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


def _longest(label: NDArray[np.int32], dx: FloatArray, dy: FloatArray, count: int) -> FloatArray:
    """Largest extent of each object over 32 directions: at most 0.12 % short of the longest."""
    if not count:
        return np.zeros(0)
    order = np.argsort(label, kind="stable")
    dx, dy = dx[order].astype(np.float32), dy[order].astype(np.float32)
    starts = np.searchsorted(label[order], np.arange(count))
    longest = np.zeros(count, dtype=np.float32)
    for angle in np.arange(DIRECTIONS) * np.pi / DIRECTIONS:
        along = np.float32(np.cos(angle)) * dx + np.float32(np.sin(angle)) * dy
        extent = np.maximum.reduceat(along, starts) - np.minimum.reduceat(along, starts)
        np.maximum(longest, extent, out=longest)
    return longest.astype(np.float64) + 1.0


def _word(area: float, longest: float, length: float, breadth: float) -> ShapeWord:
    elongation = length / max(breadth, 1e-9)
    if elongation >= LONG_FROM and longest >= 4:
        return "long"
    # Of a few pixels no more can be said than that they are a speck.
    fill = area / (np.pi / 4 * longest**2)
    if area < 12 or (elongation <= ROUND_TO and fill >= ROUND_FILL):
        return "round"
    return "irregular"
