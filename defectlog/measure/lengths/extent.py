"""How big a mark is: its length, area, longest extent and equivalent diameter."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.lengths.scale import NO_SCALE, Point, Polygon, Scale, polygon_area

MarkShape = Literal["point", "line", "outline", "box"]


@dataclass(frozen=True, slots=True)
class Extent:
    """The size of one mark, in pixels and, with a scale, in millimetres.

    ``length`` is along a line (None for outlines and boxes); ``area`` and ``diameter`` (of
    the circle of the same area) are of an outline or box (None for lines); ``longest`` is
    the largest distance between two of its points. A point has no size: all are None.
    ``uncertainty_pct`` is that of the scale, in per cent of every length; an area has twice
    as much. How well the mark was drawn is not in it.
    """

    length_px: float | None = None
    area_px2: float | None = None
    longest_px: float | None = None
    diameter_px: float | None = None
    length_mm: float | None = None
    area_mm2: float | None = None
    longest_mm: float | None = None
    diameter_mm: float | None = None
    uncertainty_pct: float | None = None


def mark_extent(shape: MarkShape, points: Sequence[Point], scale: Scale = NO_SCALE) -> Extent:
    """Size a mark.

    Parameters
    ----------
    shape : what was drawn
    points : (x, y) in pixels of the upright picture: one for a point, two or more along a
        line, three or more round an outline, two opposite corners of a box (or its four)
    scale : of the photo; without one the mm figures are None

    Returns
    -------
    Extent

    Raises
    ------
    ValueError
        If there are too few points for the shape.
    """
    least = {"point": 1, "line": 2, "outline": 3, "box": 2}[shape]
    if len(points) < least:
        raise ValueError(f"a mark of shape {shape} needs {least} points, not {len(points)}")
    if shape == "point":
        return Extent()
    if shape == "box" and len(points) == 2:
        (x0, y0), (x1, y1) = points
        points = box_outline(x0, y0, x1 - x0, y1 - y0)
    in_px = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    in_mm = scale.to_mm(in_px) if scale.is_known else None
    if shape == "line":
        return Extent(
            length_px=line_length(in_px),
            longest_px=longest_extent(in_px),
            length_mm=None if in_mm is None else line_length(in_mm),
            longest_mm=None if in_mm is None else longest_extent(in_mm),
            uncertainty_pct=scale.uncertainty_pct,
        )
    area_px2 = polygon_area(in_px)
    area_mm2 = None if in_mm is None else polygon_area(in_mm)
    return Extent(
        area_px2=area_px2,
        longest_px=longest_extent(in_px),
        diameter_px=equivalent_diameter(area_px2),
        area_mm2=area_mm2,
        longest_mm=None if in_mm is None else longest_extent(in_mm),
        diameter_mm=None if area_mm2 is None else equivalent_diameter(area_mm2),
        uncertainty_pct=scale.uncertainty_pct,
    )


def line_length(points: Sequence[Point] | NDArray[np.floating]) -> float:
    """Length of the line through the points, in their unit."""
    steps = np.diff(np.asarray(points, dtype=np.float64).reshape(-1, 2), axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def longest_extent(points: Sequence[Point] | NDArray[np.floating]) -> float:
    """Largest distance between any two of the points (the largest Feret diameter)."""
    places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(places) < 2:
        return 0.0
    # The two furthest points are corners of the hull; float32 only chooses the candidates.
    chosen = cv2.convexHull(places.astype(np.float32), returnPoints=False).ravel()
    hull = places[chosen]
    gaps = hull[:, None, :] - hull[None, :, :]
    return float(np.sqrt((gaps**2).sum(axis=2).max()))


def equivalent_diameter(area: float) -> float:
    """Diameter of the circle of the same area."""
    return 2 * math.sqrt(area / math.pi)


def box_outline(x: float, y: float, width: float, height: float) -> Polygon:
    """The four corners of a box, clockwise from (x, y)."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
