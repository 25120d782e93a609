"""A cloth made small, so that its tows can be followed, and compared with itself further on."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.halves import both
from defectlog.measure.light import (
    BoolImage,
    FloatImage,
    GreyImage,
    RatioImage,
    from_cells,
    halved,
)

# Tows are followed cell by cell, each most of a pitch wide, on pictures so small that a cell has
# these many pixels along a side; on the last if the picture itself is that fine, and no larger.
CELL_PITCHES = 0.8
COARSE, FINE, FINEST, MOST_PX = 4, 8, 16, 5_000_000
LEAST_CELLS = 14  # along the shorter side: twice as many as light is compared over at most
# What is darker or lighter than this share of the pixels is not told apart: voids and glints
# then say no more than the tows they lie on.
BULK = (0.2, 0.95)
STEPS = 255  # that the light of the bulk is told apart in
FINER = 6  # bits more for means of cells, from pixels two by two on
SAMPLED = 11  # of so many pixels one, for how light the bulk is

Field = NDArray[np.float32]  # (2, rows, columns): for each cell, how many to go down and across


@dataclass(frozen=True, slots=True, eq=False)
class SmallCloth:
    """A cloth as small as its tows can be followed on, in cells of ``cell_px`` high and wide."""

    shape: tuple[int, int]  # of the picture
    cell_px: tuple[float, float]
    coarse: "Small"
    fine: "Small"
    finest: "Small | None"

    @classmethod
    def of(cls, light: RatioImage, held: BoolImage, nearest: float) -> "SmallCloth | None":
        """Make a cloth small; None where it has too few tows.

        Parameters
        ----------
        light : (M, N) light relative to the even light of the surface
        held : (M, N) bool, what is inspected
        nearest : the shortest repeat in any direction, in pixels
        """
        cell = max(CELL_PITCHES * nearest / math.sqrt(2), FINE)
        cells = tuple(round(side / cell) for side in light.shape)
        if min(cells) < LEAST_CELLS:
            return None
        is_finer = cell >= FINEST and math.prod(cells) * FINEST**2 < MOST_PX
        mean, inside = _shrunk(light, held, cells, FINE)
        coarse, fine = both(
            lambda: Small.of(halved(mean), inside[::2, ::2], COARSE),
            lambda: Small.of(mean, inside, FINE),
        )
        finest = Small.of(*_shrunk(light, held, cells, FINEST), FINEST) if is_finer else None
        high, wide = (side / n for side, n in zip(light.shape, cells, strict=True))
        return cls(light.shape, (high, wide), coarse, fine, finest)


@dataclass(frozen=True, slots=True, eq=False)
class Small:
    """A picture as small as tows can be followed on, its light in steps of their bulk."""

    picture: GreyImage
    held: NDArray[np.uint8]  # 255 where it is inspected
    cell_px: int

    @classmethod
    def of(cls, mean: RatioImage, inside: NDArray[np.uint8], cell_px: int) -> "Small":
        """From a picture as small as that, and where it is inspected."""
        picture = np.log(np.maximum(mean, np.uint16(1)).astype(np.float32))
        low, high = np.quantile(picture[inside > 0][::SAMPLED], BULK)
        steps = (np.clip(picture, low, high) - low) * (STEPS / max(high - low, 1e-3))
        held = np.ascontiguousarray(inside) * np.uint8(255)
        return cls(np.rint(steps).astype(np.uint8), held, cell_px)

    @property
    def cells(self) -> tuple[int, int]:
        rows, columns = self.picture.shape
        return rows // self.cell_px, columns // self.cell_px

    def to_cells(self, image: GreyImage) -> FloatImage:
        """Means of the cells; halved time and again, for that takes a third of the time."""
        cells = halved(image).astype(np.uint16) << FINER
        for _ in range(int(math.log2(self.cell_px)) - 1):
            cells = halved(cells)
        return cells.astype(np.float32)


def _shrunk(
    light: RatioImage, held: BoolImage, cells: tuple[int, int], cell_px: int
) -> tuple[RatioImage, NDArray[np.uint8]]:
    """Light and what is inspected in so many cells of so many pixels along a side."""
    size = (cells[1] * cell_px, cells[0] * cell_px)
    inside = cv2.resize(held.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return cv2.resize(light, size, interpolation=cv2.INTER_AREA), inside


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """By how much each cell looks more like itself further on, and how clearly it says so."""

    off: Field
    clear: FloatImage


def met(small: Small, field: Field, reach: int, window: int, *, every: int = 1) -> Met:
    """Compare the cloth about each cell with that about where a field leads, and round about.

    Of so many cells along a side one alone is told.
    """
    shape, cell = small.picture.shape, small.cell_px
    down, across = (from_cells(one * np.float32(cell), cell, shape, smooth=True) for one in field)
    there, known = (
        cv2.remap(image, across, down, how | cv2.WARP_RELATIVE_MAP, borderMode=beyond)
        for image, how, beyond in (
            (small.picture, cv2.INTER_LINEAR, cv2.BORDER_REPLICATE),
            (small.held, cv2.INTER_NEAREST, cv2.BORDER_CONSTANT),
        )
    )
    known &= small.held
    few = (slice(None, None, every),) * 2
    share = _mean(small.to_cells(known) / np.float32(255 << FINER), window)[few]
    is_all = bool(share.min() == 1)
    there = cv2.copyMakeBorder(there, *(reach,) * 4, cv2.BORDER_REPLICATE)
    side = 2 * reach + 1
    unlike = np.empty((side, side, *share.shape), np.float32)
    for down in range(side):
        for across in range(side):
            beside = there[down : down + shape[0], across : across + shape[1]]
            off = cv2.absdiff(small.picture, beside)
            if not is_all:
                cv2.bitwise_and(off, known, dst=off)
            unlike[down, across] = _mean(small.to_cells(off), window)[few]
    unlike /= np.maximum(share, np.float32(0.01))
    least = _least(unlike, share)
    return replace(least, off=least.off / np.float32(cell))


def _least(unlike: NDArray[np.float32], share: FloatImage) -> Met:
    """Where, between the places that were tried, each cell is least unlike itself."""
    side = len(unlike)
    each = unlike.reshape(side * side, -1)
    best = each.argmin(axis=0)
    at = np.arange(each.shape[1])
    row, column = np.divmod(best, side)
    least = each[best, at]
    square = each.reshape(side, side, -1)
    off = np.zeros((2, len(at)), np.float32)
    inside = (row > 0) & (row < side - 1) & (column > 0) & (column < side - 1)
    for axis, (down, across) in enumerate(((1, 0), (0, 1))):
        before, after = (
            square[
                np.clip(row + k * down, 0, side - 1), np.clip(column + k * across, 0, side - 1), at
            ]
            for k in (-1, 1)
        )
        bend = np.maximum(before - 2 * least + after, np.float32(1e-6))
        off[axis] = (
            (row, column)[axis] - side // 2 + np.where(inside, 0.5 * (before - after) / bend, 0)
        )
    some = each[:: 1 if side == 3 else 2]  # of an odd number of places, as on a chessboard
    middle = len(some) // 2
    usual = np.maximum(np.partition(some, middle, axis=0)[middle], np.float32(1e-6))
    clear = np.square(1 - least / usual)
    clear[~inside | (share.ravel() < 0.5)] = 0
    return Met(off.reshape(2, *share.shape), clear.reshape(share.shape))


def _mean(cells: FloatImage, window: int) -> FloatImage:
    return cv2.blur(cells, (window, window), borderType=cv2.BORDER_REPLICATE)
