"""Which candidates are voids; and of those that are not, why."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray, Runs, listed, rows_and_columns
from defectlog.measure.outlines.outline import Rise
from defectlog.measure.outlines.shapes import Shapes

WEAVE = "repeats with the weave: cloth, not a void"
DYED = "dyed yarn: voids like these would not show on it"
PIT = "weaker than the voids here, and drawn out as gaps between tows are: cloth, not a void"
POCKET = "hardly stands out, and lies as tows or grooves do: resin between them, not a void"
SOFT = "fades out softly: a shadow, a fold or the flank of a glint"
THIN = "thin and long as a hair or a scratch"
LINE = "a piece of a line that runs on: a hair, a scratch or the gap along a tow"
FAINT = "fainter than the voids here, and as soft or as faint as cloth is: more likely cloth"
ALONE = "stands too little out of this surface to be told from it"
NOISE = "no clearer than the specks that the noise of this photo makes"
SPECK = "below what this photo can show"
BELOW = "smaller than asked for"
MOST = 500

# As wide as a hair or scratch shows, in pixels, once blurred; and how much longer than wide,
# alone or with those it continues in.
THIN_PX = 5.5
THIN_EACH = 2.5
THIN_CHAIN = 7.0
CHAIN_GAP_PX = 6
# What fills the ellipse of its own second moments by so much, and is hardly longer than wide by
# these, is a disc whose outline noise has frayed. A curled hair leaves that ellipse empty.
FRAYED_FILL, FRAYED_LONG = 0.6, 1.6
# Where a stroke is lost, it may go on within half of this; its crumbs are a little long.
LOST_PX, CRUMB = 64, 1.5
# The flank of a fold or glint fades into surface that is itself off the even light by such a
# share of it; asked of what is longer round than this, which tows of two shades can't be.
FLANK = 0.3
FLANK_ROUND_MM = 20.0
FOLD_LONG = 12.0
FOLD_FAINT = 1.6
# Of what stands out on a fold's crest or in its shadow, the share that is the fold's own.
ON_FOLDS = 0.35


@dataclass(frozen=True, slots=True)
class Turned:
    """Candidates that were turned down, all for one reason; ``area`` in worked pixels."""

    x: FloatArray
    y: FloatArray
    area: FloatArray
    why: str

    @classmethod
    def of(cls, shapes: Shapes, which: BoolImage, why: str) -> "Turned":
        """Some of the objects that have been sized, (n,) bool."""
        return cls(shapes.x[which], shapes.y[which], shapes.area[which].astype(np.float64), why)


def turned_down(runs: Runs, which: BoolImage, columns: int, why: str) -> Turned:
    """Gather what some objects are like from the runs of pixels of all of them.

    Parameters
    ----------
    runs : of all objects
    which : (n,) bool, the objects to gather
    columns : of the picture
    """
    few = np.flatnonzero(which.take(runs.own))
    length, own = runs.length.take(few), runs.own.take(few)
    row, column = rows_and_columns(runs.first.take(few), columns)
    middles = column + 0.5 * (length - 1), row

    def summed(values: NDArray[np.number]) -> FloatArray:
        return np.bincount(own, values, len(which))[which]

    area = summed(length)
    x, y = (summed(length * middle) / area for middle in middles)
    return Turned(x, y, area, why)


def half_width(area: FloatArray, perimeter: FloatArray) -> FloatArray:
    """Half the width of an object of that area and outline: of a disc its radius.

    Twice the area over the outline is the radius of a disc and the whole width of a long
    band; what lies between the two is told by how far the outline is from a circle's.
    """
    outline = np.maximum(perimeter, 1.0)
    compact = np.minimum(4 * np.pi * area / outline**2, 1.0)
    return 2 * area / outline * (0.5 + 0.5 * compact)


def is_frayed_round(area: FloatArray, length: FloatArray, breadth: FloatArray) -> BoolImage:
    """Objects that are round and filled by the axes of the ellipse of their second moments."""
    filled = area > FRAYED_FILL * np.pi / 4 * length * breadth
    return filled & (length < FRAYED_LONG * breadth)


def is_thin(
    at: IndexArray,
    label: IndexArray,
    shape: tuple[int, int],
    area: FloatArray,
    perimeter: FloatArray,
    frayed: BoolImage | None = None,
) -> BoolImage:
    """Objects that, with what they continue in, are as thin and long as a hair.

    Parameters
    ----------
    at, label : the objects' pixels in the flattened picture, and the object each is of
    shape : of the picture
    area, perimeter : (n,) of the objects
    frayed : (n,) bool, which are as long as they are wide, whatever their outlines say
    """
    width = 2 * half_width(area, perimeter)
    length = np.maximum(area / np.maximum(width, 0.5), width)
    if frayed is not None:
        length = np.where(frayed, width, length)
    thin = (width < THIN_PX) & (length > THIN_EACH * width)
    if not thin.any():
        return thin
    # Whatever ends near to where another begins is one stroke, cut up by noise.
    pixels = np.flatnonzero(thin.take(label))
    row, column = rows_and_columns(at.take(pixels), shape[1])
    drawn = np.zeros(((shape[0] + 1) // 2, (shape[1] + 1) // 2), np.uint8)
    drawn[row // 2, column // 2] = 1
    reach = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (CHAIN_GAP_PX // 2 + 1,) * 2)
    joined = listed(cv2.dilate(drawn, reach).view(np.bool_))
    chain = np.zeros(len(area), dtype=np.int64)
    chain[label.take(pixels)] = joined.runs.of(row // 2 * drawn.shape[1] + column // 2)
    whole = np.bincount(chain, np.where(thin, length, 0))
    across = np.bincount(chain, np.where(thin, area, 0)) / np.maximum(whole, 1e-9)
    strokes = whole > THIN_CHAIN * across
    strokes[0] = False
    if not strokes.any():
        return np.zeros_like(thin)
    chains = np.zeros(drawn.shape, np.int32)
    chains.ravel()[joined.at] = joined.label
    strokes, near = _continued(strokes, np.ascontiguousarray(chains[::4, ::4]))
    # Crumbs as narrow as the stroke that lie along it are of it.
    narrow = np.flatnonzero((width < THIN_PX).take(label))
    row, column = rows_and_columns(at.take(narrow), shape[1])
    along = strokes[chains[row // 2, column // 2]]
    along |= near[row // 8, column // 8] & (length > CRUMB * width)[label[narrow]]
    crumbs = np.bincount(label[narrow], along, minlength=len(area)) > 0.5 * area
    return crumbs | (thin & strokes[chain])


def _continued(strokes: BoolImage, chains: NDArray[np.int32]) -> tuple[BoolImage, BoolImage]:
    """Strokes, with the chains that go on where they were lost for a little; and what is near.

    Parameters
    ----------
    strokes : (n,) bool, which chains are
    chains : (M, N) number of the chain, 0 beside all of them, at an eighth of the size
    """
    while True:
        beside = (~strokes[chains]).view(np.uint8)
        near = cv2.distanceTransform(beside, cv2.DIST_L2, 3) <= LOST_PX / 16
        more = strokes.copy()
        more[np.unique(chains[near])] = True
        more[0] = False
        if np.array_equal(more, strokes):
            return strokes, near
        strokes = more


def is_fold(rise: Rise, perimeter_px: FloatArray, *, px_per_mm: float, reach: float) -> BoolImage:
    """Whether large objects are the shading of a fold or the flank of a glint.

    Parameters
    ----------
    rise : of the objects
    perimeter_px : outline of each
    px_per_mm : of the picture, roughly
    reach : how far the surface itself goes the other way, as a share of its light

    Notes
    -----
    Either the surface about them goes the same way, or they are long bands that stand out no
    further than the surface does by itself.
    """
    large = perimeter_px > FLANK_ROUND_MM * px_per_mm
    going = rise.around > FLANK * (rise.around + rise.height)
    width = 2 * half_width(rise.counted, perimeter_px)
    band = perimeter_px / 2 > FOLD_LONG * np.maximum(width, 1.0)
    return large & (going | (band & (rise.height < FOLD_FAINT * reach)))


def lie_on_folds(rise: Rise, area: FloatArray, *, reach: float) -> bool:
    """Whether what was found lies, for the most part, where the surface itself goes that way.

    Parameters
    ----------
    rise : of the objects
    area : (n,) of each
    reach : how far the surface itself goes the other way, as a share of its light

    Notes
    -----
    Voids lie on light cloth and on dark alike; crests and shadows of folds are the upper part
    of something wider.
    """
    if not len(area):
        return False
    going = rise.around / np.maximum(rise.around + rise.height, 1e-6)
    return middle_height(going, area) > ON_FOLDS and middle_height(rise.around, area) > reach


def middle_height(height: FloatArray, area: FloatArray) -> float:
    """The contrast that half of the area of voids reaches."""
    if not len(height):
        return 0.0
    order = np.argsort(height, kind="stable")
    upto = area[order].cumsum()
    return float(height[order][np.searchsorted(upto, upto[-1] / 2)])
