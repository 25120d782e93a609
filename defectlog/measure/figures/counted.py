"""What is told of every void that counts, field by field."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave_direction import from_weave
from defectlog.measure.figures.arrangement import edge_distance, kinds_of
from defectlog.measure.lengths.scale import Scale
from defectlog.measure.outlines.shapes import Shapes


def fields_of_voids(
    shapes: Shapes,
    area: FloatArray,
    which: IndexArray,
    surface: Surface,
    scale: Scale,
    weave_deg: float | None,
) -> dict[str, list[Any]]:
    """A list for each field of ``result.Void``.

    Parameters
    ----------
    shapes, area : of all objects, in worked pixels
    which : of them are voids that count
    surface : they lie on
    scale : of the picture as given
    weave_deg : direction of a family of tows, None if there is none to be seen
    """
    shrink = surface.shrink
    x, y = centres_of(shapes, which, shrink).T
    area_px = area[which] * shrink**2
    d_px = 2 * np.sqrt(area_px / np.pi)
    longest_px = np.maximum(shapes.longest[which] * shrink, d_px)
    edge_px = edge_distance(shapes.x[which], shapes.y[which], surface.inspected) * shrink
    direction = shapes.direction_deg[which]
    words = np.array(shapes.words, dtype=object)[which]
    to_weave = None if weave_deg is None else from_weave(direction, weave_deg)
    roughly = surface.px_per_mm * shrink  # for the kind alone
    per_mm = scale.px_per_mm_at(x, y)
    return {
        "x": x.tolist(),
        "y": y.tolist(),
        "d_px": d_px.tolist(),
        "d_mm": _in_mm(d_px, per_mm),
        "area_px": area_px.tolist(),
        "area_mm2": _in_mm(area_px, per_mm, power=2),
        "shape": words.tolist(),
        "longest_px": longest_px.tolist(),
        "longest_mm": _longest_mm(x, y, longest_px, direction, d_px, scale),
        "direction_deg": direction.tolist(),
        "kind": kinds_of(words, d_px / roughly, longest_px / roughly, to_weave),
        "aspect": (shapes.length[which] / np.maximum(shapes.breadth[which], 0.5)).tolist(),
        "to_weave_deg": [None] * len(which) if to_weave is None else to_weave.tolist(),
        "edge_px": edge_px.tolist(),
        "edge_mm": _in_mm(edge_px, per_mm),
    }


def centres_of(shapes: Shapes, which: IndexArray, shrink: int) -> FloatArray:
    """(n, 2) x and y of voids in the picture as given."""
    worked = np.column_stack([shapes.x[which], shapes.y[which]])
    return (worked + 0.5) * shrink - 0.5


def _longest_mm(
    x: FloatArray,
    y: FloatArray,
    longest_px: FloatArray,
    direction_deg: FloatArray,
    d_px: FloatArray,
    scale: Scale,
) -> list[float] | list[None]:
    """Longest extents on the surface: aslant, a pixel is longer one way than the other."""
    per_mm = scale.px_per_mm_at(x, y)
    if per_mm is None or scale.homography is None:
        return _in_mm(longest_px, per_mm)
    turn = np.radians(direction_deg)
    half = 0.5 * longest_px[:, None] * np.column_stack([np.cos(turn), -np.sin(turn)])
    middle = np.column_stack([x, y])
    across = np.hypot(*(scale.to_mm(middle + half) - scale.to_mm(middle - half)).T)
    return np.maximum(across, d_px / per_mm).tolist()


def _in_mm(
    size_px: FloatArray, per_mm: NDArray[np.float64] | None, *, power: int = 1
) -> list[float] | list[None]:
    return [None] * len(size_px) if per_mm is None else (size_px / per_mm**power).tolist()
