"""Where each place of a cloth comes up again along its tows, however these wander."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import FloatImage
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.small_cloth import COARSE, Field, Small, SmallCloth, met
from defectlog.measure.cloth.squares import told_at

# Tows wander so far against the even weave, in pitches; what looks alike next is beyond 0.7.
WANDER = 0.6
# Of the weave as a whole: the degree of what is fitted and how far from the middle of the
# picture, in halves of it; of a large picture without the step between, roughly the last alone.
WHOLE = ((1, 0.6), (1, 1.0), (3, 1.0))
WIDE, MIDDLE, NARROW = 7, 5, 3  # cells over which light is compared
FITTED_CELLS, MOST_EVERY = 3000, 3  # as many say as much as all; of so many along a side, one
ROUNDS, SCATTER, LEAST_SCATTER = 4, 3.0, 0.01  # of a fit; the last in cells
# A cell that is as clear as this share of the usual one speaks for itself.
CLEAR, NEAR_CELLS, FAR_CELLS = 0.3, 1.1, 4.4


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """Where some repeats along the tows lead to, from any place of a picture.

    ``places`` are the rows and columns they lead to, in pixels, from the middles of square cells
    of so many pixels: those of the picture, and one more beyond each of its edges.
    """

    places: Field
    cell_px: int

    def over(self, rows: slice, columns: int, *, every: int = 1) -> tuple[FloatImage, FloatImage]:
        """The rows and the columns it leads to, from the pixels of some rows of the picture.

        Parameters
        ----------
        rows, columns : which rows, and how many pixels are in them
        every : of squares of so many pixels along a side, the middle alone, be that between
            pixels; has to divide the first row and the cells

        Returns
        -------
        (rows, columns) float32, two of them
            For each square.
        """
        middle = told_at(every)
        cell = self.cell_px // every
        top, end = rows.start // every, math.ceil((rows.stop - middle) / every)
        first = top // cell
        near = self.places[:, first : -(-end // cell) + 2]
        size = (near.shape[2] * cell, near.shape[1] * cell)
        own = slice(top - (first - 1) * cell, end - (first - 1) * cell)
        beside = slice(cell, cell + math.ceil((columns - middle) / every))
        down, across = (
            cv2.resize(one, size, interpolation=cv2.INTER_LINEAR)[own, beside] for one in near
        )
        aside = np.float32((every - 1) / 2 - middle)
        return (down - aside, across - aside) if aside else (down, across)

    def at(
        self, row: NDArray[np.number], column: NDArray[np.number]
    ) -> tuple[FloatImage, FloatImage]:
        """The rows and the columns it leads to from places of the picture, (M, N) each."""
        # Of the cells the first is beyond the edge.
        down, across = ((at + 0.5) / self.cell_px + 0.5 for at in (row, column))
        return _taken(self.places, down.astype(np.float32), across.astype(np.float32))


# Some steps along either family of tows.
Places = tuple[tuple[Step, ...], tuple[Step, ...]]


def steps_along(
    cloth: SmallCloth,
    way: FloatArray,
    times: tuple[int, ...],
    *,
    cell_px: int,
    roughly: bool = False,
) -> tuple[Step, ...] | None:
    """Follow a cloth along one family of its tows; None where it can't be followed.

    Parameters
    ----------
    cloth : made small
    way : one repeat along the tows, (rows, columns) in pixels, for the most part
    times : how many repeats to go on, each forwards and backwards
    cell_px : of the cells that steps are told in
    roughly : whether to a quarter of a cell is near enough

    Notes
    -----
    The repeat is looked for cell by cell, where the cloth is most like that about the cell:
    first as a whole, for tilt and lens, then for what tows wander beside that.
    """
    wander = round(WANDER / cloth.cell_pitches * COARSE)
    steps = WHOLE[-1:] if roughly else WHOLE[::2] if cloth.is_large else WHOLE
    field = _as_a_whole(cloth.coarse, way / cloth.cell_px, wander, steps)
    if field is None:
        return None
    field = field + _beside(cloth.coarse, field, wander, MIDDLE)
    # Of a large picture's many cells, those beside make up for what each is followed less closely.
    closest = [(cloth.fine, 1), (cloth.finest, 1)] if not roughly else []
    closer = (cloth.coarse, 1) if roughly or cloth.is_large else (cloth.fine, 2)
    for small, reach in (closer, *closest):
        if small is not None:
            field = field + _beside(small, field, reach, NARROW)
    return tuple(
        Step(_in_pixels(total, cloth, cell_px), cell_px)
        for one in (field, _back(field))
        for total in _gone_on(one, times)
    )


def _in_pixels(field: Field, cloth: SmallCloth, cell_px: int) -> Field:
    """Where a field in cells of the cloth leads to, in pixels, as ``Step`` has it."""
    # Pixels and cells have their places in their middles.
    middles = [
        ((np.arange(-1, -(-side // cell_px) + 1) + 0.5) * cell_px - 0.5).astype(np.float32)
        for side in cloth.shape
    ]
    row, column = np.meshgrid(*middles, indexing="ij")
    high, wide = (np.float32(px) for px in cloth.cell_px)
    down, across = _taken(field, (row + 0.5) / high - 0.5, (column + 0.5) / wide - 0.5)
    return np.stack([row + down * high, column + across * wide])


def _as_a_whole(
    small: Small, way: FloatArray, reach: int, steps: tuple[tuple[int, float], ...]
) -> Field | None:
    """The repeat as it changes evenly over the picture, from the middle of it outwards."""
    rows, columns = small.cells
    every = int(np.clip(math.isqrt(rows * columns // FITTED_CELLS), 1, MOST_EVERY))
    y, x = (((np.arange(n) + 0.5) / n * 2 - 1) for n in (rows, columns))
    field = np.ones((2, rows, columns), np.float32) * way.astype(np.float32)[:, None, None]
    few = (slice(None, None, every),) * 2
    far = np.maximum(np.abs(y)[:, None], np.abs(x))[few]
    for degree, furthest in steps:
        seen = met(small, field, reach, WIDE, every=every)
        clear = np.where(far <= furthest, seen.clear, 0)
        terms = np.stack(
            [np.outer(y**i, x**j) for i in range(degree + 1) for j in range(degree + 1 - i)], -1
        )
        fitted = [
            _fitted(one[few] + off, clear, terms[few])
            for one, off in zip(field, seen.off, strict=True)
        ]
        if any(factors is None for factors in fitted):
            return None
        field = np.stack([terms @ factors for factors in fitted]).astype(np.float32)
    return field


def _fitted(values: FloatImage, weight: FloatImage, terms: FloatArray) -> FloatArray | None:
    """How much there is of each term of a smooth surface through the bulk of some values.

    None where too few say anything.
    """
    known = weight > 0
    few, given, weight = terms[known], values[known].astype(np.float64), weight[known]
    for _ in range(ROUNDS):
        if np.count_nonzero(weight) < 4 * terms.shape[-1]:
            return None
        part = few * weight[:, None]
        ridge = 1e-9 * float(weight.sum()) * np.eye(terms.shape[-1])
        factors = np.linalg.solve(part.T @ few + ridge, part.T @ given)
        off = np.abs(given - few @ factors)
        bulk = 1.4826 * float(middle_of(off)) + LEAST_SCATTER
        weight = np.where(off < SCATTER * bulk, weight, 0)
    return factors


def _beside(small: Small, field: Field, reach: int, window: int) -> Field:
    """What tows wander beside a field, from cell to cell, evened out over those near."""
    seen = met(small, field, reach, window)
    near, far = (_spread(seen.clear, sigma) for sigma in (NEAR_CELLS, FAR_CELLS))
    usual = CLEAR * float(middle_of(seen.clear.ravel())) + 1e-6
    trust = np.minimum(near / usual, 1)
    beside = []
    for off in seen.off * seen.clear:
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
