"""The rest of a dyed yarn: slivers between two tows over it, and dashes that others do not meet."""

import math

import numpy as np

from defectlog.measure.light import BoolImage
from defectlog.measure.pixels import FloatArray, IndexArray
from defectlog.measure.shapes import Shapes, sized
from defectlog.measure.weave import Objects

# Dashes are as large as half the area of all cloth is in objects of, or more than half as large,
# and so much longer than wide; fewer are no yarn, and more are not looked through, or for slivers.
HALF, LONGER, FEWEST, MOST = 0.5, 1.15, 4, 1000
# What is as long and wide as they are, and lies on the line of one, is a dash.
ALIKE, TIMES = 1.2, 3
# A sliver lies across the yarn, as long as this is wide but for what light tows take of it, is
# narrower than so much of its length, and on the line of a dash, within some of its lengths.
SAME_DEG, LEAST_LONG, MOST_LONG, NARROW = 15.0, 0.45, 1.2, 0.6
ASIDE, LENGTHS = 0.25, 2.5


def rest_of_yarns(objects: Objects, cloth: BoolImage, columns: int) -> BoolImage:
    """Which objects are more of a yarn of which dashes are known.

    Parameters
    ----------
    objects : from ``weave.objects_of``
    cloth : (n + 1,) bool, those that are known for cloth, as ``weave.repeating`` gives them
    columns : of the picture

    Returns
    -------
    (n + 1,) bool

    Notes
    -----
    A yarn that goes below two tows at once shows in the gap between these, as wide as it is and as
    dark: more of it or less from gap to gap, so that slivers do not repeat as dashes do. Nor do
    dashes near to the edge, or where the cloth bends.
    """
    none = np.zeros(len(cloth), dtype=bool)
    dashes = _dashes(objects.areas, cloth)
    if not FEWEST <= np.count_nonzero(dashes) <= MOST:
        return none
    shapes = sized(objects.at, objects.label - 1, count=len(cloth) - 1, columns=columns)
    dashes = np.flatnonzero(dashes[1:] & (shapes.length > LONGER * shapes.breadth))
    if len(dashes) < FEWEST:
        return none
    wide, long = (float(np.median(side[dashes])) for side in (shapes.breadth, shapes.length))
    others = ~cloth[1:] & (shapes.length > LEAST_LONG * wide)
    alike = others.copy()
    for side, usual in ((shapes.length, long), (shapes.breadth, wide)):
        alike &= (side < ALIKE * usual) & (side > usual / ALIKE)
    for _ in range(TIMES):
        dashes = np.union1d(dashes, _on_their_line(shapes, alike, dashes, wide, long, across=False))
    slivers = others & (shapes.length < MOST_LONG * wide)
    slivers &= shapes.breadth < NARROW * shapes.length
    if max(len(dashes), np.count_nonzero(slivers)) > MOST:
        return none
    none[1 + dashes] = True
    none[1 + _on_their_line(shapes, slivers, dashes, wide, long, across=True)] = True
    return none & ~cloth


def _dashes(areas: FloatArray, cloth: BoolImage) -> BoolImage:
    order = np.sort(areas[cloth])
    upto = order.cumsum()
    return cloth & (areas > HALF * order[np.searchsorted(upto, 0.5 * upto[-1])])


def _on_their_line(
    shapes: Shapes, some: BoolImage, dashes: IndexArray, wide: float, long: float, *, across: bool
) -> IndexArray:
    """Which of some objects lie on the line of a dash and near to it, along it or across."""
    some = np.flatnonzero(some)
    turn = np.radians(shapes.direction_deg)
    apart = turn[some][:, None] - turn[dashes]
    down, right = (at[some][:, None] - at[dashes] for at in (shapes.y, shapes.x))
    along = right * np.cos(turn[dashes]) - down * np.sin(turn[dashes])
    aside = right * np.sin(turn[dashes]) + down * np.cos(turn[dashes])
    on = (np.abs(aside) < ASIDE * wide) & (np.abs(along) < LENGTHS * long)
    on &= np.abs(np.sin(apart) if across else np.cos(apart)) > math.cos(math.radians(SAME_DEG))
    return some[on.any(axis=1)]
