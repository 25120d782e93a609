"""Pieces of a line that runs on beyond both their ends: hairs, scratches, gaps between tows."""

import numpy as np

from defectlog.measure.light import BoolImage, as_ratio
from defectlog.measure.pixels import FloatArray
from defectlog.measure.shapes import Shapes
from defectlog.measure.surface import Surface

# A piece is so narrow, in pixels, and so much longer than wide.
NARROW_PX, LONGER = 6.0, 1.2
# Beyond either end the line is looked for in some directions about the piece's own, from so far
# on and over so many pixels, against what lies so far beside it.
TURNS_DEG = (-24.0, -16.0, -8.0, 0.0, 8.0, 16.0, 24.0)
BEYOND_PX = np.array([2.0, 3.5, 5.0, 6.5, 8.0, 9.5])
BESIDE_PX = 2.5
# All along there it has to have this share of the piece's own contrast.
RUNS_ON = 0.45


def run_on(shapes: Shapes, surface: Surface, sign: float) -> BoolImage:
    """Which objects are pieces of a line that goes on, fainter, at both their ends.

    Parameters
    ----------
    shapes : of the objects
    surface : they lie on
    sign : 1 for dark objects, -1 for bright ones

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
    if not len(some):
        return piece
    x, y, length, breadth = (
        getattr(shapes, name)[some] for name in ("x", "y", "length", "breadth")
    )
    along = np.radians(shapes.direction_deg[some])

    def contrast(angle: FloatArray, way: FloatArray) -> FloatArray:
        """Of places so far along from the middle of each piece to what is beside, (n, m)."""
        across, down = np.cos(angle)[:, None], -np.sin(angle)[:, None]
        column, row = x[:, None] + way * across, y[:, None] + way * down
        aside = (breadth / 2 + BESIDE_PX)[:, None]
        middle = _light(surface, row, column)
        sides = [
            _light(surface, row + side * across, column - side * down) for side in (aside, -aside)
        ]
        if sign > 0:
            return np.minimum(*sides) - middle
        return middle - np.maximum(*sides)

    own = contrast(along, length[:, None] * np.array([-0.25, 0.0, 0.25])).mean(axis=1)
    least = RUNS_ON * np.maximum(own, 1e-3)
    goes_on = np.ones(len(some), dtype=bool)
    for end in (1.0, -1.0):
        way = end * (length[:, None] / 2 + BEYOND_PX)
        found = np.zeros(len(some), dtype=bool)
        for turn in np.radians(TURNS_DEG):
            there = contrast(along + turn, way)
            # Of two places side by side the mean: noise of a pixel breaks no line.
            found |= ((there[:, 1:] + there[:, :-1]) / 2).min(axis=1) >= least
        goes_on &= found
    piece[some] = goes_on
    return piece


def _light(surface: Surface, row: FloatArray, column: FloatArray) -> FloatArray:
    # Without its weave a surface has no gaps to go on in.
    light = surface.smooth if surface.expected is None else surface.ratio
    rows, columns = light.shape
    at = np.clip(np.rint(row), 0, rows - 1).astype(np.intp) * columns
    at += np.clip(np.rint(column), 0, columns - 1).astype(np.intp)
    return as_ratio(light.ravel().take(at)).astype(np.float64)
