"""Whether an outline drawn by hand bounds a piece of surface: it has an area, and one inside."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.lengths.extent import longest_extent
from defectlog.measure.lengths.scale import Point, polygon_area

# A finger overshoots where it began, and trembles. A loop of a twentieth of the whole length holds
# at most a four-hundredth of the largest area such a length can go round (a circle's).
SMALL_LOOP = 0.05
LEAST_WIDTH_PX = 0.5


def crosses_itself(points: Sequence[Point]) -> bool:
    """Whether a closed outline crosses itself, other than by a slip of the hand.

    Parameters
    ----------
    points : n corners (x, y) in one unit, the last joined to the first

    Returns
    -------
    bool
        False also where every crossing is a slip: it cuts off a loop shorter than 5 % of the
        whole length. Touching is not crossing, nor is going back along the same line; a crossing
        exactly at a corner is taken for a touch.

    Notes
    -----
    Two edges cross when the ends of each lie on opposite sides of the other (the sign of the
    cross product). All pairs are looked at, row by row: 2000 corners take a few tenths of a
    second.
    """
    starts = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    edges = np.roll(starts, -1, axis=0) - starts
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    # How far along the outline every corner is, and the way once round.
    along, whole = np.cumsum(lengths) - lengths, float(lengths.sum())
    last = len(starts) - 1
    for i in range(last - 1):
        # Neighbours share a corner; the last edge is a neighbour of the first.
        others = np.arange(i + 2, last if i == 0 else last + 1)
        here, there = _crossings(starts[i], edges[i], starts[others], edges[others])
        loop = along[others] + there * lengths[others] - along[i] - here * lengths[i]
        loop = np.minimum(loop, whole - loop)
        if np.any(loop >= SMALL_LOOP * whole):  # a pair that does not cross is NaN, never more
            return True
    return False


def has_area(points: Sequence[Point]) -> bool:
    """Whether an outline in px that does not cross itself is wider than half a pixel on average."""
    return polygon_area(points) > LEAST_WIDTH_PX * longest_extent(points)


def _crossings(
    start: NDArray[np.float64],
    edge: NDArray[np.float64],
    starts: NDArray[np.float64],
    edges: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where others cross an edge, 0–1 along it and along each of them; NaN where one does not."""
    gaps = starts - start
    begins = _cross(edge, gaps)
    ends = _cross(edge, gaps + edges)
    first = _cross(edges, -gaps)
    second = _cross(edges, edge - gaps)
    crossed = (begins * ends < 0) & (first * second < 0)
    nothing = np.full(len(starts), np.nan)
    return (
        np.divide(first, first - second, out=nothing.copy(), where=crossed),
        np.divide(begins, begins - ends, out=nothing, where=crossed),
    )


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
