"""Pieces of a line that runs on beyond both their ends: hairs, scratches, gaps between tows."""

import numpy as np

from defectlog.measure.arrays.light import BoolImage, as_ratio, as_share
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.shapes import Shapes

# A piece is so narrow, in pixels, and so much longer than wide.
NARROW_PX, LONGER = 6.0, 1.2
# Beyond either end the line is looked for in some directions about the piece's own, from so far
# on and over so many pixels, against what lies so far beside it.
TURNS_DEG = (-24.0, -16.0, -8.0, 0.0, 8.0, 16.0, 24.0)
BEYOND_PX = np.array([2.0, 3.5, 5.0, 6.5, 8.0, 9.5])
BESIDE_PX = 2.5
WITHIN = np.array([-0.25, 0.0, 0.25])  # of its length, where a piece's own contrast is taken
LEAST = 1e-3
# All along there it has to have this share of the piece's own contrast.
RUNS_ON = 0.45


def run_on(shapes: Shapes, surface: Surface, sign: float, threshold: float) -> BoolImage:
    """Which objects are pieces of a line that goes on, fainter, at both their ends.

    Parameters
    ----------
    shapes : of the objects
    surface : they lie on
    sign : 1 for dark objects, -1 for bright ones
    threshold : they were found by, in log units of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    A void ends where it ends. A faint hair, or the gap along a tow, is beyond the threshold only
    here and there; between, it is a little fainter.
    """
    piece = (shapes.breadth < NARROW_PX) & (shapes.length > LONGER * shapes.breadth)
    some = np.flatnonzero(piece)
    own = _contrast(shapes, some, surface, sign, shapes.length[some, None] * WITHIN, 0.0)
    own = own.mean(axis=1)
    # What is much stronger than the threshold is not lost as soon as it is a little fainter.
    faint = own < as_share(threshold, dark=sign > 0) / RUNS_ON
    some, own = some[faint], own[faint]
    for end in (1.0, -1.0):
        way = end * (shapes.length[some, None] / 2 + BEYOND_PX)
        goes_on = np.zeros(len(some), dtype=bool)
        for turn in TURNS_DEG:
            there = _contrast(shapes, some, surface, sign, way, turn)
            # Of two places side by side the mean: noise of a pixel breaks no line.
            least = ((there[:, 1:] + there[:, :-1]) / 2).min(axis=1)
            goes_on |= least >= RUNS_ON * np.maximum(own, LEAST)
        some, own = some[goes_on], own[goes_on]
    piece[:] = False
    piece[some] = True
    return piece


def _contrast(
    shapes: Shapes,
    some: IndexArray,
    surface: Surface,
    sign: float,
    way: FloatArray,
    turn_deg: float,
) -> FloatArray:
    """Of places so far along from the middle of some objects to what is beside, (n, m).

    Along the object's own direction, turned by so much.
    """
    angle = np.radians(shapes.direction_deg[some, None] + turn_deg)
    across, down = np.cos(angle), -np.sin(angle)
    column, row = shapes.x[some, None] + way * across, shapes.y[some, None] + way * down
    aside = shapes.breadth[some, None] / 2 + BESIDE_PX
    middle = _light(surface, row, column)
    sides = [_light(surface, row + side * across, column - side * down) for side in (aside, -aside)]
    return np.minimum(*sides) - middle if sign > 0 else middle - np.maximum(*sides)


def _light(surface: Surface, row: FloatArray, column: FloatArray) -> FloatArray:
    # Without its weave a surface has no gaps to go on in.
    rows, columns = surface.ratio.shape
    at = np.clip(np.rint(row), 0, rows - 1).astype(np.intp) * columns
    at += np.clip(np.rint(column), 0, columns - 1).astype(np.intp)
    light = surface.smooth.ravel().take(at) if surface.expected is None else surface.light_at(at)
    return as_ratio(light).astype(np.float64)
