"""Single dashes of a tracer yarn, in no file: told by what else is known of it, or of its cloth."""

import math
from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.pixels import FloatArray, listed
from defectlog.measure.candidates.dashes import (
    ALIKE,
    LEAST,
    MOST,
    SAME,
    is_alike,
    known_cloth,
    usual_area,
)
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import Shapes
from defectlog.measure.patches.halfway import framed

# Dashes known for cloth are dyed yarn, not resin between tows, if they stand out by so many times
# what was asked. One is cut off if it reaches so near to what is not inspected.
DYED, CUT_PX = 2.0, 3
# Once the weave is taken out, places that others are compared with know all of a yarn but what few
# of them lie on. Cloth that is as bright is a yarn if it is no more of it than this.
RARE = 0.05
PART = 12  # of the rows of a picture one is looked at first


def like_the_cloth(
    surface: Surface,
    shapes: Shapes,
    turned: list[Turned],
    inspected: BoolImage,
    *,
    threshold: float,
) -> BoolImage:
    """Which objects are dashes as those that are known for cloth, but lie where few others do.

    Parameters
    ----------
    surface : evenly lit
    shapes : of the objects
    turned : what has been turned down so far, with the cloth that repeats as the weave does
    inspected : (M, N) bool, what was before yarns were told
    threshold : contrast that voids were found by, in log units of light

    Returns
    -------
    (n,) bool

    Notes
    -----
    In a corner of the picture a yarn has no repeat within it. All its dashes are of one dye and
    one size, but where the edge cuts them off; a void is so by chance, and then others are of that
    size as well. Sizes are those of what lies beyond the threshold, as known ones have them: of
    small dashes far beyond it, blur makes twice what lies within their outlines.
    """
    none = np.zeros(len(shapes.x), dtype=bool)
    cloth = known_cloth(turned)
    if not cloth or not len(none):
        return none
    x, y, every = (np.concatenate([getattr(one, n) for one in cloth]) for n in ("x", "y", "area"))
    usual = usual_area(every, 0.5)
    alike = is_alike(every, usual)
    tone = float(np.median(_off(surface, x[alike], y[alike])))
    if np.count_nonzero(alike) < LEAST or abs(tone) < DYED * threshold:
        return none
    own = _off(surface, shapes.x, shapes.y) / tone
    dyed = (own < SAME) & (own > 1 / SAME)
    if not dyed.any():
        return none
    # Where there are voids, one in the first rows alone is as a rule of another tone and as large.
    for rows in (-(-len(surface.smooth) // PART), len(surface.smooth)):
        area = _beyond(surface, shapes, -math.copysign(1.0, tone), threshold, rows)
        if np.where(dyed, area >= ALIKE * usual, area > usual / ALIKE).any():
            return none
    return dyed & (_is_cut(inspected, shapes) | (area > usual / ALIKE))


def cut_off(
    inspected: BoolImage, shapes: Shapes, height: FloatArray, dashes: BoolImage
) -> BoolImage:
    """Which objects are pieces of dashes, cut off where what is inspected ends.

    Parameters
    ----------
    inspected : (M, N) bool, what was before yarns were told
    shapes : of the objects
    height : (n,) contrast of each
    dashes : (n,) bool, those that are dashes

    Notes
    -----
    Of such a piece nothing but the dye is as it was: it is shorter or narrower, and lies any way.
    """
    if not dashes.any():
        return dashes
    usual = np.median(height[dashes])
    piece = (height < SAME * usual) & (height > usual / SAME)
    for size in (shapes.length, shapes.breadth):
        piece &= size < SAME * np.median(size[dashes])
    return piece & _is_cut(inspected, shapes) if piece.any() else piece


def _is_cut(inspected: BoolImage, shapes: Shapes) -> BoolImage:
    """Whether each object reaches the end of what is inspected."""
    open_ = framed(inspected[1:-1, 1:-1], 1)
    clear = cv2.erode(open_.view(np.uint8), np.ones((2 * CUT_PX + 1,) * 2, np.uint8)).ravel()
    return np.bincount(shapes.label, clear.take(shapes.at) == 0, len(shapes.x)) > 0


def _beyond(
    surface: Surface, shapes: Shapes, sign: float, threshold: float, rows: int
) -> FloatArray:
    """Pixels beyond a threshold that the middle of each object is one of, in so many rows."""
    smooth, inspected = surface.smooth[:rows], surface.inspected[:rows]
    inspected_px = int(np.count_nonzero(inspected))
    top = replace(surface, smooth=smooth, inspected=inspected, inspected_px=inspected_px)
    known = listed(beyond(top, sign, threshold))
    row, column = (np.rint(place).astype(np.int64) for place in (shapes.y, shapes.x))
    middle = row * surface.smooth.shape[1] + column
    # One pixel more, which is none of these, so that there is one after each middle.
    at, label = np.append(known.at, surface.smooth.size), np.append(known.label, 0)
    found = np.searchsorted(at, middle)
    areas = np.append(0, known.area)
    return np.where(at[found] == middle, areas[label[found]], 0).astype(np.float64)


def left_of_a_yarn(
    surface: Surface, light: FloatArray, area: FloatArray, kept: BoolImage
) -> BoolImage:
    """Which bright objects are as bright and as large as dashes that the cloth itself has.

    Parameters
    ----------
    surface : without its weave, its light as the inverse
    light, area : (n,) of the objects, found as dark ones on it
    kept : (n,) bool, which of them are to be told

    Returns
    -------
    (n,) bool

    Notes
    -----
    A yarn that crosses a corner of the picture has too few dashes there to be compared with each
    other. A bright void is as bright as all those of another yarn, and as large, by chance alone;
    and no void is cloth: that asks for several in a row.
    """
    none = np.zeros(len(area), dtype=bool)
    if not kept.any():
        return none
    order = np.flatnonzero(kept)[np.argsort(light[kept], kind="stable")]
    upto = area[order].cumsum()
    least = SAME * light[order][np.searchsorted(upto, upto[-1] / 2)]
    as_bright = surface.expected < least
    if not 0 < np.count_nonzero(as_bright) <= RARE * as_bright.size:
        return none
    every = 4.0 * listed(as_bright).area  # at half the size
    usual = usual_area(every, 0.5)
    alike = is_alike(every, usual)
    if np.count_nonzero(alike) < LEAST or every[alike].sum() < MOST * every.sum():
        return none
    dyed = kept & (light < least) & is_alike(area, usual)
    others = kept & ~dyed & (area > usual / ALIKE)
    return none if others.any() else dyed


def _off(surface: Surface, x: FloatArray, y: FloatArray) -> FloatArray:
    """How far the light at some places is off the even light, in log units."""
    row, column = (np.rint(place).astype(np.int64) for place in (y, x))
    return np.log(np.maximum(surface.smooth[row, column], 1) / ONE)
