"""Creases of the bag: long lines that are light on one side and dark on the other."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import (
    BoolImage,
    FloatImage,
    RatioImage,
    as_contrast,
    from_cells,
    to_cells,
)
from defectlog.measure.arrays.pixels import FloatArray, IndexArray, rows_and_columns
from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.surface import Surface

# Cells the surface is looked at in, so that a large picture takes no longer, and the blur that
# leaves out what is smaller than a crease.
CELL_MM, MOST_CELLS = 0.4, 150_000
BLUR_MM = 0.7
# Each side of a crease stands out by so much in log light and so many deviations of the rest,
# is so long, and longer than wide.
LEAST_STEP, DEVIATIONS = 0.035, 3.0
LEAST_MM, TIMES_WIDTH = 10.0, 4.0
# Beside nearly all of it lies the other side: so near, or so many times its width if that is more,
# and off to one hand. What is about a patch lies all round it.
NEAR_MM, NEAR_WIDTHS, FURTHEST_MM = 4.0, 1.5, 8.0
ALONGSIDE, TO_ONE_HAND = 0.75, 0.7
# The lamp may light the two unalike, and where creases cross, they hide each other's sides: of the
# other one there is so much of the area of this one, that stands out as sides do, and so much of
# what this one does. Or it stands out nearly half as much as this one: cloth is seldom as bright
# beside what is dark, but dark beside what is bright, where much the same area is asked for.
UNALIKE, WEAKER = 0.2, 0.4
A_SHARE, AS_LARGE = 0.08, 0.4
# Looked for where an object has so long an outline, and less of the area of a circle as long: of
# a band that is ``TIMES_WIDTH`` times as long as wide.
LONG_ROUND_MM, SLENDER = 8.0, math.pi * TIMES_WIDTH / (TIMES_WIDTH + 1) ** 2
# The share of an object that lies on a crease if it is of it. A dark one is besides such a share
# of the whole crease, or stands out no more than so many times as far as the darkest of it, which
# is such a share.
OF_IT, PART, AS_STRONG, DARKEST = 0.6, 0.1, 1.2, 0.1
# What has so much of it on the one flank, as much on the other, and so much on both is the crease.
EITHER_FLANK, BOTH_FLANKS = 0.1, 0.5


@dataclass(frozen=True, slots=True)
class Creases:
    """The dark flanks of creases, or the bright ones, on a surface seen in cells.

    ``flanks`` are numbered from 1, 0 is what is none; ``steps`` is how far each stands out where
    it does most, in log units of light, and ``sign`` 1.0 for the dark ones, -1.0 for the bright.
    """

    flanks: NDArray[np.int32]
    steps: list[float]
    cell_px: int
    cell_mm: float
    sign: float

    def hold(
        self,
        at: IndexArray,
        label: IndexArray,
        area: FloatArray,
        height: FloatArray,
        shape: tuple[int, int],
    ) -> BoolImage:
        """Which objects are a flank, or a part of it.

        Parameters
        ----------
        at, label : pixels of the objects in the flattened picture, and the object each is of
        area : (n,) of each
        height : (n,) contrast of each to the surface about it, as a share of light
        shape : of the picture

        Returns
        -------
        (n,) bool
        """
        row, column = (
            np.minimum(place // self.cell_px, n - 1)
            for place, n in zip(rows_and_columns(at, shape[1]), self.flanks.shape, strict=True)
        )
        row *= self.flanks.shape[1]
        row += column
        flank = self.flanks.ravel().take(row)
        on_one = np.flatnonzero(flank)
        label, flank = label.take(on_one), flank.take(on_one).astype(np.int64)
        lies = np.bincount(label, minlength=len(area)) > OF_IT * area
        if self.sign < 0:
            return lies  # a crease glints along its crest: what is bright on it is its own
        whose = np.zeros(len(area), dtype=np.int64)
        np.maximum.at(whose, label, flank)
        depth = as_contrast(height, dark=True)
        whole = np.bincount(self.flanks.ravel())[whose] * self.cell_px**2
        strong = AS_STRONG * np.append(0, self.steps)[whose]
        return lies & ((area > PART * whole) | (depth < strong))

    def share_of(self, mask: BoolImage, top: int, left: int) -> float:
        """How much of a window of the picture lies on them, from that row and column on."""
        rows, columns = (
            np.arange(-(-first // self.cell_px), min((first + long) // self.cell_px, n))
            for first, long, n in zip((top, left), mask.shape, self.flanks.shape, strict=True)
        )
        own = mask[np.ix_(rows * self.cell_px - top, columns * self.cell_px - left)]
        return float((self.flanks[np.ix_(rows, columns)] > 0)[own].mean()) if own.any() else 0.0

    def about(self, shape: tuple[int, int]) -> BoolImage:
        """Where they lie on a picture of that shape, with the surface beside them."""
        near = cv2.dilate((self.flanks > 0).view(np.uint8), _brush(NEAR_MM / self.cell_mm))
        # Cells are whole: of the last ones there is only a part.
        near = cv2.copyMakeBorder(near, 0, 1, 0, 1, cv2.BORDER_REPLICATE)
        return from_cells(near, self.cell_px, shape, smooth=False).view(np.bool_)


def creases_of(
    surface: Surface, area: FloatArray, perimeter_px: FloatArray, *, sign: float
) -> Creases | None:
    """The flanks of creases, if some of the objects on a surface are long enough for one.

    Parameters
    ----------
    surface : evenly lit
    area, perimeter_px : (n,) of the objects
    sign : 1.0 for dark objects, -1.0 for bright ones
    """
    long = perimeter_px > LONG_ROUND_MM * surface.px_per_mm
    if not (long & (4 * np.pi * area < SLENDER * perimeter_px**2)).any():
        return None
    return flanks_of(surface, sign)


def flanks_of(surface: Surface, sign: float) -> Creases | None:
    """The dark flanks of creases, sign 1.0, or the bright ones, -1.0, if there are any.

    Notes
    -----
    A fold that is lit from the side turns one flank to the light and one from it. A void has
    an edge all round, and the surface beyond it is as light as anywhere.
    """
    return surface.once(("flanks", sign), partial(_flanks_of, surface, sign))


def _flanks_of(surface: Surface, sign: float) -> Creases | None:
    """``flanks_of``, told anew."""
    rows, columns = surface.smooth.shape
    cell = max(1, round(CELL_MM * surface.px_per_mm), math.isqrt(rows * columns // MOST_CELLS))
    light = surface.once("light for flanks", partial(_light, surface.smooth, cell))
    mm = cell / surface.px_per_mm
    flanks, steps = _flanks(light, mm, sign)
    return Creases(flanks, steps, cell, mm, sign) if steps else None


def lies_across(
    flanks: Callable[[float], Creases | None], mask: BoolImage, top: int, left: int
) -> bool:
    """Whether a window of a surface shows a crease: its dark flank and its bright one.

    Parameters
    ----------
    flanks : those of a surface, from its sign; see ``flanks_of``
    mask : (m, n) bool, what is asked about, from row ``top`` and column ``left`` on
    """
    either = [flanks(sign) for sign in (1.0, -1.0)]
    shares = [0.0 if one is None else one.share_of(mask, top, left) for one in either]
    return min(shares) > EITHER_FLANK and sum(shares) > BOTH_FLANKS


def _light(smooth: RatioImage, cell: int) -> FloatImage:
    """The light of whole cells of so many pixels, in log units of its steps."""
    rows, columns = (n // cell * cell for n in smooth.shape)
    light = to_cells(smooth[:rows, :columns], cell).astype(np.float32)
    return np.log(np.maximum(light, np.float32(1)))


def _flanks(light: FloatImage, mm: float, sign: float) -> tuple[NDArray[np.int32], list[float]]:
    """The dark sides of creases, or the bright ones, numbered from 1, in cells of such a side.

    With them how far each stands out where it does most, in log units of light.
    """
    sharp = light * np.float32(-sign)
    sharp -= middle_of(sharp.ravel())
    towards = cv2.GaussianBlur(sharp, (0, 0), BLUR_MM / mm)
    towards -= middle_of(towards.ravel())
    step = max(LEAST_STEP, DEVIATIONS * 1.4826 * float(middle_of(np.abs(towards.ravel()))))
    _, labels, stats, _ = cv2.connectedComponentsWithStats((towards > step).view(np.uint8))
    flanks, steps = np.zeros(towards.shape, np.int32), []
    margin = math.ceil(FURTHEST_MM / mm)
    long = np.hypot(stats[1:, 2], stats[1:, 3]) * mm > LEAST_MM
    for k in 1 + np.flatnonzero(long):
        left, top, wide, high = stats[k, :4]
        window = (
            slice(max(0, top - margin), top + high + margin),
            slice(max(0, left - margin), left + wide + margin),
        )
        own = labels[window] == k
        if _is_flank(own, towards[window], mm, step, sign):
            # Of a narrow flank blur leaves half.
            steps.append(float(np.quantile(sharp[window][own], 1 - DARKEST)))
            flanks[window][own] = len(steps)
    # Objects are outlined halfway up, a little wider than what stands out most.
    return cv2.dilate(flanks.astype(np.float32), np.ones((3, 3), np.uint8)).astype(np.int32), steps


def _is_flank(own: BoolImage, towards: FloatImage, mm: float, step: float, sign: float) -> bool:
    """Whether an object of cells is long and has its opposite beside it, to one hand."""
    places = np.argwhere(own)
    length = (max(cv2.minAreaRect(places.astype(np.float32))[1]) + 1) * mm
    # Of a band, pixels lie a quarter of its width from its edge on average, if it crosses another
    # as well.
    inner = cv2.distanceTransform(np.pad(own, 1).view(np.uint8), cv2.DIST_L2, 3)
    width = 4 * (float(inner[1:-1, 1:-1][own].mean()) - 0.5) * mm
    if length < LEAST_MM or length < TIMES_WIDTH * width:
        return False
    reach = min(max(NEAR_MM, NEAR_WIDTHS * width), FURTHEST_MM) / mm
    mean = float(towards[own].mean())
    ways = (
        (max(step, UNALIKE * mean), A_SHARE),
        (WEAKER * mean, A_SHARE if sign > 0 else AS_LARGE),
    )
    near = cv2.dilate(own.view(np.uint8), _brush(reach)).view(np.bool_)
    return any(
        _has_beside(own, near & (towards < -least), share, reach, TO_ONE_HAND * width / mm)
        for least, share in ways
    )


def _has_beside(own: BoolImage, other: BoolImage, share: float, reach: float, off: float) -> bool:
    """Whether enough of the other lies within reach of nearly all of this, and so far off it."""
    count = np.count_nonzero(own)
    if np.count_nonzero(other) < share * count:
        return False
    beside = cv2.dilate(other.view(np.uint8), _brush(reach)).view(np.bool_)
    if np.count_nonzero(own & beside) < ALONGSIDE * count:
        return False
    apart = np.argwhere(other).mean(axis=0) - np.argwhere(own).mean(axis=0)
    return float(np.hypot(*apart)) > off


def _brush(reach: float) -> NDArray[np.uint8]:
    """A disc that reaches so many cells, or a part of one more."""
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * math.ceil(reach) + 1,) * 2)
