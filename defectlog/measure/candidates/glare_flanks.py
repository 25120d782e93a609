"""The flanks of glare: bright objects along it that are what its mask leaves of it."""

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_halves
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.masks import grown
from defectlog.measure.arrays.pixels import IndexArray, rows_and_columns
from defectlog.measure.outlines.outline import Rise

# So near to glare its flank begins; it is all that is bright if it has so much of that.
FLANK_PX, MOSTLY = 3, 0.5
# What lies on light that glare lifts is asked for a little more, all of it by itself. Of what still
# stands out, as little as such a share of all is no void so near to the rest: glare ends in pieces.
BY_ITSELF, LITTLE, NEAR_MM = 1.1, 0.25, 3.0
COARSE_PX = 8  # along a side of the squares that say how near


def lie_on_flanks(
    at: IndexArray,
    label: IndexArray,
    rise: Rise,
    glare: BoolImage,
    *,
    asked: float,
    px_per_mm: float,
) -> BoolImage:
    """Which bright objects are what is left of the flanks of glare.

    Parameters
    ----------
    at : pixels of the objects in the flattened picture
    label : of which object each is
    rise : of the n objects
    glare : (M, N) bool
    asked : what a pixel stands out by to be void, as a share of the surface's light
    px_per_mm : of the picture, roughly

    Returns
    -------
    (n,) bool, none of them unless most of their area lies along glare

    Notes
    -----
    Glare fades out, and no one place is its end. What it adds beyond its mask lies along that, in
    pieces, for cloth mirrors it tow by tow; and it lifts the light of what lies further off, so
    that the tops of cloth reach what is asked. Voids lie anywhere, a few of them there, and stand
    out by so much from what is about them.
    """
    near, area = grown(glare, FLANK_PX).ravel(), rise.counted

    def touched(part: slice) -> IndexArray:
        return label[part].take(np.flatnonzero(near.take(at[part])))

    flank = np.zeros(len(area), dtype=bool)
    flank[np.concatenate(by_halves(touched, len(at)))] = True
    if area[flank].sum() <= MOSTLY * area.sum():
        return np.zeros_like(flank)
    # Beside a dark void the surface stands out from that alone, and from the even light by less.
    own = rise.height + np.minimum(rise.around, 0)
    flank |= own < BY_ITSELF * asked
    rest = np.flatnonzero(~flank.take(label))
    if len(rest) and area[~flank].sum() < LITTLE * area.sum():
        near = _near_pieces(at.take(np.flatnonzero(flank.take(label))), glare, px_per_mm)
        row, column = rows_and_columns(at.take(rest), glare.shape[1])
        flank[label.take(rest[near[row // COARSE_PX, column // COARSE_PX]])] = True
    return flank


def _near_pieces(pieces: IndexArray, glare: BoolImage, px_per_mm: float) -> BoolImage:
    """Which squares of the picture are near to glare, or to its pieces."""
    near = glare[::COARSE_PX, ::COARSE_PX].astype(np.uint8)
    row, column = rows_and_columns(pieces, glare.shape[1])
    near[row // COARSE_PX, column // COARSE_PX] = 1
    reach = 2 * round(NEAR_MM * px_per_mm / COARSE_PX) + 1
    return cv2.dilate(near, np.ones((reach, reach), np.uint8)).view(np.bool_)
