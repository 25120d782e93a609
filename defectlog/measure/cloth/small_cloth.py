"""A cloth made small, so that its tows can be followed, and compared with itself further on."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import both
from defectlog.measure.arrays.light import (
    BoolImage,
    FloatImage,
    GreyImage,
    RatioImage,
    halved,
    log_of,
    rows_of_cells,
)
from defectlog.measure.arrays.quantiles import quantiles_of

# Tows are followed cell by cell, each most of a pitch wide, on pictures so small that a cell has
# these many pixels along a side; on the last if the picture itself is that fine, and no larger.
# Where that makes very many cells, they are larger, up to a pitch.
CELL_PITCHES, MOST_PITCHES, MANY_CELLS = 0.8, 1.05, 20_000
COARSE, FINE, FINEST, MOST_PX = 4, 8, 16, 5_000_000
LARGE_PX = 8_000_000  # a picture that is told less closely, for there is more of it
WHOLE = 0.99  # of a cell, but for rounding
LEAST_CELLS = 14  # along the shorter side: twice as many as light is compared over at most
# What is darker or lighter than this share of the pixels is not told apart: voids and glints
# then say no more than the tows they lie on.
BULK = (0.2, 0.95)
STEPS = 255  # that the light of the bulk is told apart in
FINER = 6  # bits more for means of cells, from pixels two by two on
LOG_OF_EACH = log_of(np.arange(2**16, dtype=np.uint16))  # step of light
SAMPLED = 11  # of so many pixels one, for how light the bulk is
ROWS = 64  # at a time: what is worked out on the way stays in the cache

Field = NDArray[np.float32]  # (2, rows, columns): for each cell, how many to go down and across


@dataclass(frozen=True, slots=True, eq=False)
class SmallCloth:
    """A cloth as small as its tows can be followed on, in cells of ``cell_px`` high and wide.

    That is so many pitches, unless tows are narrower than can be followed.
    """

    shape: tuple[int, int]  # of the picture
    cell_px: tuple[float, float]
    cell_pitches: float
    coarse: "Small"
    fine: "Small"
    finest: "Small | None"

    @property
    def is_large(self) -> bool:
        """Whether it is of a large picture."""
        return math.prod(self.shape) >= LARGE_PX

    @classmethod
    def of(
        cls, light: RatioImage, held: BoolImage, nearest: float, *, roughly: bool = False
    ) -> "SmallCloth | None":
        """Make a cloth small; None where it has too few tows.

        Parameters
        ----------
        light : (M, N) light relative to the even light of the surface
        held : (M, N) bool, what is inspected
        nearest : the shortest repeat in any direction, in pixels
        roughly : whether it need not be as fine as it can be
        """
        pitch = nearest / math.sqrt(2)
        wide = math.sqrt(light.size / MANY_CELLS) / pitch
        cell_pitches = float(np.clip(wide, CELL_PITCHES, MOST_PITCHES))
        cell = max(cell_pitches * pitch, FINE)
        cells = tuple(round(side / cell) for side in light.shape)
        if min(cells) < LEAST_CELLS:
            return None
        is_finer = not roughly and cell >= FINEST and math.prod(cells) * FINEST**2 < MOST_PX
        # Squares are several pixels wide, and light is smooth over two.
        step = 2 if cell >= 2 * FINE else 1
        mean, inside = _shrunk(light, held, cells, FINE, step=step)
        coarse, fine = both(
            lambda: Small.of(halved(mean), inside[::2, ::2], COARSE),
            lambda: Small.of(mean, inside, FINE),
        )
        finest = Small.of(*_shrunk(light, held, cells, FINEST), FINEST) if is_finer else None
        high, wide = (side / n for side, n in zip(light.shape, cells, strict=True))
        return cls(light.shape, (high, wide), cell_pitches, coarse, fine, finest)


@dataclass(frozen=True, slots=True, eq=False)
class Small:
    """A picture as small as tows can be followed on, its light in steps of their bulk."""

    picture: GreyImage
    held: NDArray[np.uint8]  # 255 where it is inspected
    whole: FloatImage  # 1 for cells that are inspected as a whole, 0 for others
    cell_px: int

    @classmethod
    def of(cls, mean: RatioImage, inside: NDArray[np.uint8], cell_px: int) -> "Small":
        """From a picture as small as that, and where it is inspected."""
        is_whole = inside.all()
        bulk = mean.ravel() if is_whole else mean[inside > 0]
        low, high = quantiles_of(log_of(bulk[::SAMPLED]), *BULK)
        per_step = STEPS / max(high - low, 1e-3)
        each = np.rint((np.clip(LOG_OF_EACH, low, high) - low) * per_step)
        picture = each.astype(np.uint8).take(mean)
        rows, columns = (side // cell_px for side in mean.shape)
        whole = np.ones((rows, columns), np.float32)
        if not is_whole:
            whole[:] = inside.reshape(rows, cell_px, columns, cell_px).all(axis=(1, 3))
        return cls(picture, np.ascontiguousarray(inside) * np.uint8(255), whole, cell_px)

    @property
    def cells(self) -> tuple[int, int]:
        return self.whole.shape

    def to_cells(self, image: GreyImage) -> FloatImage:
        """Means of the cells; halved time and again, for that takes a third of the time."""
        cells = halved(image).astype(np.uint16)
        cells <<= FINER
        for _ in range(int(math.log2(self.cell_px)) - 1):
            cells = halved(cells)
        return cells.astype(np.float32)


def _shrunk(
    light: RatioImage, held: BoolImage, cells: tuple[int, int], cell_px: int, *, step: int = 1
) -> tuple[RatioImage, NDArray[np.uint8]]:
    """Light and what is inspected in so many cells of so many pixels along a side.

    Of so many pixels of the picture along a side one alone is looked at.
    """
    few = (slice(None, None, step),) * 2
    size = (cells[1] * cell_px, cells[0] * cell_px)
    inside = np.ones(size[::-1], np.uint8)
    if not held.all():
        inside = cv2.resize(held[few].view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    light = light[few]
    # Where squares are little more than pixels, those next to them say as much as all within.
    how = cv2.INTER_AREA if 2 * size[0] < light.shape[1] else cv2.INTER_LINEAR
    return cv2.resize(light, size, interpolation=how), inside


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
    there, known = _led(small, field)
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


def _led(small: Small, field: Field) -> tuple[GreyImage, NDArray[np.uint8]]:
    """What is where a field leads from each pixel, and 255 where that is inspected."""
    there, known = np.empty_like(small.picture), np.full_like(small.held, 255)
    row, column = (np.arange(n, dtype=np.float32) for n in there.shape)
    cell, surely = small.cell_px, _surely_known(small, field)
    field = field * np.float32(cell)
    for top in range(0, len(there), ROWS):
        rows = slice(top, min(top + ROWS, len(there)))
        down, across = (rows_of_cells(one, cell, rows, len(column)) for one in field)
        down, across = down + row[rows, None], across + column
        replicated = cv2.BORDER_REPLICATE
        cv2.remap(
            small.picture, across, down, cv2.INTER_LINEAR, dst=there[rows], borderMode=replicated
        )
        unsure = np.flatnonzero(~surely[top // cell : -(-rows.stop // cell)].all(axis=0))
        if len(unsure):
            some = slice(unsure[0] * cell, (unsure[-1] + 1) * cell)
            known[rows, some] = cv2.remap(
                small.held, across[:, some], down[:, some], cv2.INTER_NEAREST
            )
    return there, known


def _surely_known(small: Small, field: Field) -> BoolImage:
    """Cells that, with all beside them, a field leads to what is inspected as a whole."""
    row, column = np.indices(small.cells, dtype=np.float32)
    # Between cells it is less than 1 if one of them is not, or lies outside.
    led = cv2.remap(small.whole, column + field[1], row + field[0], cv2.INTER_LINEAR)
    return cv2.erode(led, np.ones((3, 3), np.uint8)) > WHOLE


def _least(unlike: NDArray[np.float32], share: FloatImage) -> Met:
    """Where, between the places that were tried, each cell is least unlike itself."""
    side = len(unlike)
    each = unlike.reshape(side * side, -1)
    places = each.shape[1]
    least = each.min(axis=0)
    # The first of these: in a tenth of the time that ``argmin`` takes.
    to_go = np.arange(len(each), 0, -1, dtype=np.uint8)[:, None]
    best = len(each) - (to_go * (each == least)).max(axis=0).astype(np.int64)
    row, column = np.divmod(best, side)
    off = np.zeros((2, places), np.float32)
    inside = (row > 0) & (row < side - 1) & (column > 0) & (column < side - 1)
    own = best * places + np.arange(places)
    for axis, step in enumerate((side * places, places)):
        before, after = (each.ravel().take(own + by, mode="clip") for by in (-step, step))
        bend = np.maximum(before - 2 * least + after, np.float32(1e-6))
        off[axis] = (
            (row, column)[axis] - side // 2 + np.where(inside, 0.5 * (before - after) / bend, 0)
        )
    some = each[:: 1 if side == 3 else 2]  # of an odd number of places, as on a chessboard
    usual = np.maximum(_middle_of_each(some), np.float32(1e-6))
    clear = np.square(1 - least / usual)
    clear[~inside | (share.ravel() < 0.5)] = 0
    return Met(off.reshape(2, *share.shape), clear.reshape(share.shape))


def _middle_of_each(lists: NDArray[np.float32]) -> NDArray[np.float32]:
    """The medians of many short lists, (length, lists), of an odd length."""
    # What is largest is put last time and again: for all lists at once a third to half of the time
    # that ``np.partition`` takes.
    places = list(lists)
    for end in range(len(places) - 1, len(places) // 2 - 1, -1):
        for k in range(end):
            one, other = places[k : k + 2]
            places[k : k + 2] = np.minimum(one, other), np.maximum(one, other)
    return places[len(places) // 2]


def _mean(cells: FloatImage, window: int) -> FloatImage:
    return cv2.blur(cells, (window, window), borderType=cv2.BORDER_REPLICATE)
