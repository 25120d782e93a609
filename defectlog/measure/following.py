"""Where each place of a cloth comes up again along its tows, however these wander."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import BoolImage, FloatImage, RatioImage, from_cells, to_cells
from defectlog.measure.pixels import FloatArray

# Tows are followed cell by cell, each most of a pitch wide, on pictures so small that a cell has
# these many pixels along a side; on the last if the picture itself is that fine, and no larger.
CELL_PITCHES = 0.8
COARSE, FINE, FINEST, MOST_PX = 4, 8, 16, 5_000_000
# What is darker or lighter than this share of the pixels is not told apart: voids and glints
# then say no more than the tows they lie on.
BULK = (0.2, 0.95)
STEPS = 32_000  # that the light of the bulk is told apart in
SAMPLED = 3  # of so many pixels one, for how light the bulk is
# Tows wander so far against the even weave, in pitches; what looks alike next is beyond 0.7.
WANDER = 0.6
# Of the weave as a whole: the degree of what is fitted and how far from the middle of the
# picture, in halves of it.
WHOLE = ((1, 0.6), (1, 1.0), (3, 1.0))
WIDE, MIDDLE, NARROW = 7, 5, 3  # cells over which light is compared
ROUNDS, SCATTER, LEAST_SCATTER = 4, 3.0, 0.01  # of a fit; the last in cells
# A cell that is as clear as this share of the usual one speaks for itself.
CLEAR, NEAR_CELLS, FAR_CELLS = 0.3, 1.1, 4.4

Field = NDArray[np.float32]  # (2, rows, columns): for each cell, how many to go down and across


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """How to go on along the tows by some repeats, from any place of a picture.

    ``field`` is in cells, which are ``cell_px`` high and wide.
    """

    field: Field
    cell_px: tuple[float, float]

    def over(self, rows: slice, columns: int) -> tuple[FloatImage, FloatImage]:
        """The places it leads to, (y, x), from each pixel of some rows of the picture."""
        y = np.arange(rows.start, rows.stop, dtype=np.float32)
        # Pixels and cells have their places in their middles.
        row = (y + np.float32(0.5)) / np.float32(self.cell_px[0]) - np.float32(0.5)
        above = np.clip(np.floor(row).astype(np.int64), 0, self.field.shape[1] - 2)
        below = np.clip(row - above.astype(np.float32), 0, 1)[:, None]
        places = []
        for cells, size in zip(self.field, self.cell_px, strict=True):
            # First from row to row of the few cells, then along each: far fewer steps in all.
            few = cells[above] + below * (cells[above + 1] - cells[above])
            few *= np.float32(size)
            places.append(cv2.resize(few, (columns, len(y)), interpolation=cv2.INTER_LINEAR))
        places[0] += y[:, None]
        places[1] += np.arange(columns, dtype=np.float32)
        return places[0], places[1]


@dataclass(frozen=True, slots=True, eq=False)
class SmallCloth:
    """A cloth as small as its tows can be followed on, in cells of ``cell_px`` high and wide."""

    cell_px: tuple[float, float]
    coarse: "_Small"
    fine: "_Small"
    finest: "_Small | None"

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
        if min(cells) < 2 * WIDE:
            return None
        is_finer = cell >= FINEST and math.prod(cells) * FINEST**2 < MOST_PX
        coarse, fine, finest = (
            _Small.of(light, held, cells, cell_px) if cell_px else None
            for cell_px in (COARSE, FINE, FINEST if is_finer else 0)
        )
        high, wide = (side / n for side, n in zip(light.shape, cells, strict=True))
        return cls((high, wide), coarse, fine, finest)


def steps_along(
    cloth: SmallCloth, way: FloatArray, times: tuple[int, ...]
) -> tuple[Step, ...] | None:
    """Follow a cloth along one family of its tows; None where it can't be followed.

    Parameters
    ----------
    cloth : made small
    way : one repeat along the tows, (rows, columns) in pixels, for the most part
    times : how many repeats to go on, each forwards and backwards

    Notes
    -----
    The repeat is looked for cell by cell, where the cloth is most like that about the cell:
    first as a whole, for tilt and lens, then for what tows wander beside that.
    """
    field = _as_a_whole(cloth.coarse, way / cloth.cell_px)
    if field is None:
        return None
    field = field + _beside(cloth.coarse, field, round(WANDER / CELL_PITCHES * COARSE), MIDDLE)
    for reach in (2, 1):
        field = field + _beside(cloth.fine, field, reach, NARROW)
    if cloth.finest is not None:
        field = field + _beside(cloth.finest, field, 1, NARROW)
    return tuple(
        Step(total, cloth.cell_px)
        for one in (field, _back(field))
        for total in _gone_on(one, times)
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Small:
    """A picture as small as tows can be followed on, its light in steps of their bulk."""

    picture: NDArray[np.uint16]
    held: NDArray[np.uint8]  # 255 where it is inspected
    cell_px: int

    @classmethod
    def of(
        cls, light: RatioImage, held: BoolImage, cells: tuple[int, int], cell_px: int
    ) -> "_Small":
        size = (cells[1] * cell_px, cells[0] * cell_px)
        picture = cv2.resize(light, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        inside = cv2.resize(held.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
        picture = np.log(np.maximum(picture, np.float32(1)))
        low, high = np.quantile(picture[inside > 0][::SAMPLED], BULK)
        steps = (np.clip(picture, low, high) - low) * (STEPS / max(high - low, 1e-3))
        return cls(np.rint(steps).astype(np.uint16), inside * np.uint8(255), cell_px)

    @property
    def cells(self) -> tuple[int, int]:
        rows, columns = self.picture.shape
        return rows // self.cell_px, columns // self.cell_px


@dataclass(frozen=True, slots=True, eq=False)
class _Met:
    """By how much each cell looks more like itself further on, and how clearly it says so."""

    off: Field
    clear: FloatImage


def _met(small: _Small, field: Field, reach: int, window: int) -> _Met:
    """Compare the cloth about each cell with that about where a field leads, and round about."""
    shape, cell = small.picture.shape, small.cell_px
    spread = [from_cells(one * np.float32(cell), cell, shape, smooth=True) for one in field]
    y, x = np.indices(shape, dtype=np.float32)
    y += spread[0]
    x += spread[1]
    there = cv2.remap(small.picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    known = cv2.remap(small.held, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT)
    known &= small.held
    share = _mean(to_cells(known, cell).astype(np.float32) / 255, window)
    there = cv2.copyMakeBorder(there, *(reach,) * 4, cv2.BORDER_REPLICATE)
    side = 2 * reach + 1
    unlike = np.empty((side, side, *small.cells), np.float32)
    for down in range(side):
        for across in range(side):
            beside = there[down : down + shape[0], across : across + shape[1]]
            off = cv2.copyTo(cv2.absdiff(small.picture, beside), known)
            cells = to_cells(off, cell).astype(np.float32)
            unlike[down, across] = _mean(cells, window) / np.maximum(share, np.float32(0.01))
    met = _least(unlike, share)
    return replace(met, off=met.off / np.float32(cell))


def _least(unlike: NDArray[np.float32], share: FloatImage) -> _Met:
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
    middle = len(each) // 2  # of as many as are an odd number
    usual = np.maximum(np.partition(each, middle, axis=0)[middle], np.float32(1e-6))
    clear = np.square(1 - least / usual)
    clear[~inside | (share.ravel() < 0.5)] = 0
    return _Met(off.reshape(2, *share.shape), clear.reshape(share.shape))


def _mean(cells: FloatImage, window: int) -> FloatImage:
    return cv2.blur(cells, (window, window), borderType=cv2.BORDER_REPLICATE)


def _as_a_whole(small: _Small, way: FloatArray) -> Field | None:
    """The repeat as it changes evenly over the picture, from the middle of it outwards."""
    rows, columns = small.cells
    y, x = (((np.arange(n) + 0.5) / n * 2 - 1) for n in (rows, columns))
    field = np.ones((2, rows, columns), np.float32) * way.astype(np.float32)[:, None, None]
    far = np.maximum(np.abs(y)[:, None], np.abs(x))
    for degree, reach in WHOLE:
        met = _met(small, field, round(WANDER / CELL_PITCHES * small.cell_px), WIDE)
        clear = np.where(far <= reach, met.clear, 0)
        terms = np.stack(
            [np.outer(y**i, x**j) for i in range(degree + 1) for j in range(degree + 1 - i)], -1
        )
        fitted = [_fitted(one, clear, terms) for one in field + met.off]
        if any(one is None for one in fitted):
            return None
        field = np.stack(fitted).astype(np.float32)
    return field


def _fitted(values: FloatImage, weight: FloatImage, terms: FloatArray) -> FloatArray | None:
    """A smooth surface through the bulk of some values; None where too few say anything."""
    known = weight > 0
    few, given, weight = terms[known], values[known].astype(np.float64), weight[known]
    for _ in range(ROUNDS):
        if np.count_nonzero(weight) < 4 * terms.shape[-1]:
            return None
        part = few * weight[:, None]
        ridge = 1e-9 * float(weight.sum()) * np.eye(terms.shape[-1])
        factors = np.linalg.solve(part.T @ few + ridge, part.T @ given)
        off = np.abs(given - few @ factors)
        bulk = 1.4826 * float(np.median(off)) + LEAST_SCATTER
        weight = np.where(off < SCATTER * bulk, weight, 0)
    return terms @ factors


def _beside(small: _Small, field: Field, reach: int, window: int) -> Field:
    """What tows wander beside a field, from cell to cell, evened out over those near."""
    met = _met(small, field, reach, window)
    near, far = (_spread(met.clear, sigma) for sigma in (NEAR_CELLS, FAR_CELLS))
    usual = CLEAR * float(np.median(met.clear)) + 1e-6
    trust = np.minimum(near / usual, 1)
    beside = []
    for off in met.off * met.clear:
        # Where little is clear near, as in a patch, what is further away has to say.
        close = _spread(off, NEAR_CELLS) / np.maximum(near, np.float32(1e-6))
        about = _spread(off, FAR_CELLS) / np.maximum(far, np.float32(usual))
        beside.append(trust * close + (1 - trust) * about)
    return np.stack(beside)


def _spread(cells: FloatImage, sigma: float) -> FloatImage:
    return cv2.GaussianBlur(cells, (0, 0), sigma)


def _taken(field: Field, row: FloatImage, column: FloatImage) -> tuple[FloatImage, FloatImage]:
    """A field at places given in cells."""
    down, across = (
        cv2.remap(one, column, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for one in field
    )
    return down, across


def _moved(field: Field, by: Field) -> Field:
    """A field at where another one leads."""
    row, column = np.indices(field.shape[1:], dtype=np.float32)
    return np.stack(_taken(field, row + by[0], column + by[1]))


def _back(field: Field) -> Field:
    """The way back from where a field leads."""
    back = -field
    for _ in range(4):
        back = -_moved(field, back)
    return back


def _gone_on(field: Field, times: tuple[int, ...]) -> list[Field]:
    """Where a field leads when it is followed so many times."""
    total, out = np.zeros_like(field), []
    for k in range(1, max(times) + 1):
        total = total + _moved(field, total)
        if k in times:
            out.append(total)
    return out
