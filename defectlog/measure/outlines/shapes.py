"""Sizes, directions and shape words of the objects of a mask."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import (
    FloatArray,
    IndexArray,
    Runs,
    in_file,
    pixels_of,
    rows_and_columns,
    runs_of,
)

ShapeWord = Literal["round", "long", "irregular"]

LONG_FROM = 3.0  # length over breadth
ROUND_TO = 1.6
# A disc fills 1.0 of the circle across its longest extent, an ellipse of 1.6 : 1 0.63.
ROUND_FILL = 0.55
DIRECTIONS = 32
FEW = 8  # runs: small voids have hardly more


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

    def means_of(self, image: NDArray[np.number]) -> FloatArray:
        """Mean of an image (M, N) within each object, 0 where that has no pixels."""
        return self.means(image.ravel().take(self.at))

    def means(self, values: NDArray[np.number]) -> FloatArray:
        """Mean of values of the pixels ``at`` within each object, 0 where that has none."""
        return np.bincount(self.label, values, len(self.area)) / np.maximum(self.area, 1)


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
    at = pixels_of(mask)
    return sized(at, labels.ravel()[at] - 1, count=count - 1, columns=mask.shape[1])


def sized(
    at: IndexArray,
    label: NDArray[np.integer],
    *,
    count: int,
    columns: int,
    runs: Runs | None = None,
) -> Shapes:
    """Size objects from their pixels, and the object of each.

    These are in the order of the picture, unless their ``runs`` are known.
    """
    runs = runs_of(at, label, columns) if runs is None else runs
    length, own = runs.length, runs.own
    row, first = rows_and_columns(runs.first, columns)

    def summed(values: NDArray[np.number]) -> FloatArray:
        return np.bincount(own, values, count)

    area = summed(length).astype(np.int64)  # pixels
    middle = first + (length - 1) / 2
    x, y = summed(length * middle) / area, summed(length * row) / area
    dx, dy = middle - x[own], row - y[own]
    xx = summed(length * dx * dx + length * (length * length - 1) / 12) / area
    yy, xy = summed(length * dy * dy) / area, summed(length * dx * dy) / area
    # A pixel is a square of side 1, with a second moment of 1/12 of its own.
    xx, yy = xx + 1 / 12, yy + 1 / 12
    mean, swing = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    long, breadth = 4 * np.sqrt(mean + swing), 4 * np.sqrt(np.maximum(mean - swing, 0))
    left = first - x[own]
    longest = _longest(own, left, left + length - 1, dy, count)
    return Shapes(
        at=at,
        label=label,
        area=area,
        x=x,
        y=y,
        diameter=2 * np.sqrt(area / np.pi),
        longest=longest,
        length=long,
        breadth=breadth,
        direction_deg=np.degrees(-np.arctan2(2 * xy, xx - yy) / 2),
        words=_words(area, longest, long, breadth),
    )


def _longest(
    label: NDArray[np.int32], left: FloatArray, right: FloatArray, dy: FloatArray, count: int
) -> FloatArray:
    """Largest extent of each object over 32 directions: at most 0.12 % short of the longest.

    Whatever is furthest to any side is an end of a run: of those to the right, the right one.
    """
    if not count:
        return np.zeros(0)
    order = in_file(label, count)
    left, right, dy = (ends[order].astype(np.float32) for ends in (left, right, dy))
    # All objects at the same time, run by run of the first few of each, and the next few likewise.
    runs = np.bincount(label, minlength=count)
    parts = -(-runs // FEW)
    first = parts.cumsum() - parts
    own = np.repeat(np.arange(count), parts)
    last = runs.cumsum()[own] - 1
    begin = (last + 1 - runs[own]) + FEW * (np.arange(len(own)) - first[own])
    each = [np.minimum(begin + k, last) for k in range(FEW)]

    def longest(angles: NDArray[np.float64]) -> NDArray[np.float32]:
        across, down = (of(angles).astype(np.float32)[:, None] for of in (np.cos, np.sin))
        far = np.full((len(angles), len(begin)), -np.inf, np.float32)
        near = -far
        for run in each:
            lower = down * dy[run]
            end = across * right[run]
            end += lower
            np.maximum(far, end, out=far)
            np.multiply(across, left[run], out=end)
            end += lower
            np.minimum(near, end, out=near)
        return (_joined(far, parts, np.maximum) - _joined(near, parts, np.minimum)).max(axis=0)

    # To the right, where the right ends are further.
    angles = (np.arange(DIRECTIONS) + 1 - DIRECTIONS // 2) * np.pi / DIRECTIONS
    either = in_two(longest, angles[::2], angles[1::2])
    return np.maximum(*either).astype(np.float64) + 1.0


def _joined(
    values: NDArray[np.float32], parts: IndexArray, furthest: np.ufunc
) -> NDArray[np.float32]:
    """The furthest (m, n) of values (m, k) of the parts that n objects are in."""
    first = parts.cumsum() - parts
    joined = values[:, first]
    more = np.flatnonzero(parts > 1)
    for k in range(1, parts.max()):
        more = more[parts[more] > k]
        joined[:, more] = furthest(joined[:, more], values[:, first[more] + k])
    return joined


def _words(
    area: FloatArray, longest: FloatArray, length: FloatArray, breadth: FloatArray
) -> tuple[ShapeWord, ...]:
    elongation = length / np.maximum(breadth, 1e-9)
    is_long = (elongation >= LONG_FROM) & (longest >= 4)
    # Of a few pixels no more can be said than that they are a speck.
    fill = area / (np.pi / 4 * longest**2)
    is_round = (area < 12) | ((elongation <= ROUND_TO) & (fill >= ROUND_FILL))
    return tuple(np.where(is_long, "long", np.where(is_round, "round", "irregular")).tolist())
