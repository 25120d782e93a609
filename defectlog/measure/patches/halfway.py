"""The outline of a patch, drawn anew: halfway between its two sides wherever it runs.

Light that is mirrored, and shade, lie over a patch and over the cloth about it alike. What is
halfway hangs on what lies close on either side of a place, not on the patch as a whole.
"""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, FloatImage
from defectlog.measure.cloth.cloth_maps import OUTLINE_MM

TIMES = 6  # drawn anew: after these it hardly moves
# How far from the outline its sides are looked at, and over what length of it they are averaged:
# some tows.
SIDE_MM, ALONG_MM = (0.5, 2.5), 2.0
AS_A_WHOLE = 0.02  # weight of the side as a whole, where little of it is near
FURTHEST_CELLS = 2  # that the outline may move outwards


def outlined_halfway(
    cells: BoolImage, near: FloatImage, own: FloatImage, held: BoolImage, cell_mm: float
) -> tuple[BoolImage, FloatImage] | None:
    """Draw the outline of a patch halfway between its sides.

    Parameters
    ----------
    cells : (M, N) bool, within an outline that is roughly right
    near : (M, N) what outlines are drawn on: ``own``, averaged over ``OUTLINE_MM``
    own : (M, N) the cloth, higher within
    held : (M, N) bool, cells that show enough of it
    cell_mm : along a cell

    Returns
    -------
    The cells within the new outline, and how far each cell is above halfway, below 0 outside;
    None where there is nothing to tell by.

    Notes
    -----
    Averaging draws the outline of a small or ragged patch in. How much so is told by averaging
    the patch's own shape: what that has come to along its outline is the level to look for.
    """
    allowed = cv2.dilate(cells.view(np.uint8), np.ones((2 * FURTHEST_CELLS + 1,) * 2, np.uint8)) > 0
    above = None
    for _ in range(TIMES):
        to_side, from_side = to_outline(cells), to_outline(~cells)
        sides = [held & in_rim(far, SIDE_MM, cell_mm) for far in (to_side, from_side)]
        if not all(side.any() for side in sides):
            break
        inner, outer = (_along(own, side, cell_mm) for side in sides)
        shape = cv2.GaussianBlur(cells.astype(np.float32), (0, 0), OUTLINE_MM / cell_mm)
        rim = np.maximum(to_side, from_side) < 1.5
        level = outer + float(shape[rim].mean()) * (inner - outer)
        drawn = np.where(allowed, near - level, np.float32(-1))
        within = largest_of(drawn > 0, cells)
        if within is None:
            break
        has_settled = np.array_equal(within, cells)
        cells, above = within, drawn
        if has_settled:
            break
    return None if above is None else (cells, above)


def to_outline(mask: BoolImage) -> FloatImage:
    """How far each cell of a mask is from the nearest outside, in cells; 0 for those outside."""
    return cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, 5)


def framed(cells: BoolImage, margin: int) -> BoolImage:
    """A mask with so many cells more along each side, none of them of it."""
    wide = cv2.copyMakeBorder(cells.view(np.uint8), *(margin,) * 4, cv2.BORDER_CONSTANT, value=0)
    return wide.view(np.bool_)


def in_rim(far: FloatImage, reach_mm: tuple[float, float], cell_mm: float) -> BoolImage:
    """What lies along an outline, of cells so far from it."""
    # A cell's middle lies half a cell from the outline that runs along its side.
    far = (far - 0.5) * cell_mm
    return (far > reach_mm[0]) & (far <= reach_mm[1])


def largest_of(above: BoolImage, cells: BoolImage) -> BoolImage | None:
    """Of a mask the object that has most of some cells, without holes; None if none has any."""
    _, labels = cv2.connectedComponents(above.view(np.uint8))
    votes = np.bincount(labels[cells], minlength=2)
    votes[0] = 0
    return filled(labels == int(votes.argmax())) if votes.any() else None


def filled(cells: BoolImage) -> BoolImage:
    """Cells or pixels with what they enclose."""
    outlines, _ = cv2.findContours(cells.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    drawn = np.zeros(cells.shape, np.uint8)
    cv2.drawContours(drawn, outlines, -1, 1, -1)
    return drawn > 0


def _along(own: FloatImage, side: BoolImage, cell_mm: float) -> FloatImage:
    """What one side of an outline is like near each place."""
    total, share = (
        cv2.GaussianBlur(values, (0, 0), ALONG_MM / cell_mm)
        for values in (np.where(side, own, np.float32(0)), side.astype(np.float32))
    )
    whole = np.float32(AS_A_WHOLE)
    return (total + whole * own[side].mean()) / (share + whole)
