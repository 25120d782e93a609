"""Light: from the values of a picture to linear light, and unevenness taken out of it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.quantiles import middle_of

FloatImage = NDArray[np.float32]
BoolImage = NDArray[np.bool_]
GreyImage = NDArray[np.uint8]
# Light relative to the even light is kept in whole steps of it: half the memory of float32,
# and finer than the grey values it comes from.
RatioImage = NDArray[np.uint16]
ONE = 4096

# Cameras store light raised to about 1 / 2.2. Halfway between two shades is only halfway in
# area, and an edge is only where it is, once that is undone.
GAMMA = 2.2
LINEAR = ((np.arange(256) / 255.0) ** GAMMA).astype(np.float32)
# A picture's black is never quite dark; keeps ratios and logarithms finite.
DARKEST = np.float32(1e-4)
DARKEST_SHARE = 1e-3  # of the light about it, that is told from black

# Cells beyond this many robust deviations of the smoothed light are not surface light
# (voids, glare, tracer yarns) and do not shape it.
CELL_LIMIT = 2.5
LEAST_SPREAD = 0.02  # of the light; nearer than this no cell is turned away
ROUNDS = 4
DEGREES = (2, 2, 4, 4, 4)  # of the surface fitted first, round by round
FURTHEST = 3.0  # in log units, beyond the light of the cells
FITTED_CELLS = 3000  # as many say as much as all of them
SPREAD_CELLS = 15_000  # and as many of how far they lie off
SMOOTHED_CELLS = 5.0  # are as fine as a Gaussian of such a deviation asks for


def grey_of(image: NDArray[np.uint8]) -> GreyImage:
    """The grey values of a picture.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue, uint8

    Raises
    ------
    ValueError
        If it is neither.
    """
    if image.dtype != np.uint8 or image.ndim not in (2, 3) or 0 in image.shape:
        raise ValueError(f"expected a uint8 picture, not {image.dtype} of shape {image.shape}")
    if image.ndim == 2:
        return np.ascontiguousarray(image)
    if image.shape[2] != 3:
        raise ValueError(f"expected 3 colour channels, not {image.shape[2]}")
    return cv2.cvtColor(np.ascontiguousarray(image), cv2.COLOR_RGB2GRAY)


def linear_light(grey: GreyImage) -> FloatImage:
    """Light between 0 and 1 from grey values 0–255, as float32."""
    return cv2.LUT(grey, LINEAR)


@dataclass(frozen=True, slots=True)
class FlatField:
    """The even light of a surface, on a grid of square cells of the picture."""

    light: FloatImage  # (rows, columns) of cells, the last of each perhaps cut by the edge
    ratio: FloatImage  # of the cells' own light to it
    weight: FloatImage  # share of each cell that is inside the region, 0–1
    cell_px: int


def flat_field(
    linear: FloatImage, inside: BoolImage, *, cell_px: int, sigma_px: float
) -> FlatField:
    """Estimate the light that falls on the sound surface.

    Parameters
    ----------
    linear : (M, N) linear light
    inside : (M, N) bool, True where the surface is to be inspected
    cell_px : side of the cells the light is averaged in first
    sigma_px : of the Gaussian that smooths the cells

    Returns
    -------
    FlatField

    Notes
    -----
    Weighted smoothing of the cells, repeated with the cells left out that lie off the
    smoothed light, so that a large void or a glint does not pull the light towards itself.
    The first round starts from a polynomial fitted the same way: under a patch wider than
    the smoothing there is nothing else to go by.
    """
    held_light = cv2.copyTo(linear, inside.view(np.uint8))
    cells = to_cells(held_light, cell_px)
    return even_light(cells, to_cells(inside.astype(np.float32), cell_px), cell_px, sigma_px)


def to_cells(
    image: NDArray[np.number], cell_px: int, rows: int | None = None
) -> NDArray[np.number]:
    """Means of cells, square if not of so many rows; what is beyond the picture's edge is 0."""
    rows = cell_px if rows is None else rows
    below, beside = -image.shape[0] % rows, -image.shape[1] % cell_px
    if below or beside:
        image = cv2.copyMakeBorder(image, 0, below, 0, beside, cv2.BORDER_CONSTANT, value=0)
    size = (image.shape[1] // cell_px, image.shape[0] // rows)
    return cv2.resize(image, size, interpolation=cv2.INTER_AREA)


def halved(image: NDArray[np.number]) -> NDArray[np.number]:
    """Means of two by two pixels; the last row or column counts twice where there is one over."""
    odd = image.shape[0] % 2, image.shape[1] % 2
    if any(odd):
        image = cv2.copyMakeBorder(image, 0, odd[0], 0, odd[1], cv2.BORDER_REPLICATE)
    size = (image.shape[1] // 2, image.shape[0] // 2)
    return cv2.resize(image, size, interpolation=cv2.INTER_AREA)


def from_cells(
    cells: NDArray[np.number], cell_px: int, shape: tuple[int, int], *, smooth: bool
) -> NDArray[np.number]:
    """Cells spread over a picture again, interpolated between or not."""
    if not smooth:
        # OpenCV takes twenty times as long.
        wide = np.repeat(cells, cell_px, axis=1)[:, : shape[1]]
        return np.repeat(wide, cell_px, axis=0)[: shape[0]]
    size = (cells.shape[1] * cell_px, cells.shape[0] * cell_px)
    return cv2.resize(cells, size, interpolation=cv2.INTER_LINEAR)[: shape[0], : shape[1]]


def rows_of_cells(
    cells: NDArray[np.number], cell_px: int, rows: slice, columns: int
) -> NDArray[np.number]:
    """Some rows of what ``from_cells`` spreads smoothly over a picture of so many columns."""
    # With the rows of cells above and below, so that what is told strip by strip has no seams.
    first = max(rows.start // cell_px - 1, 0)
    near = cells[first : -(-rows.stop // cell_px) + 1]
    size = (near.shape[1] * cell_px, len(near) * cell_px)
    spread = cv2.resize(near, size, interpolation=cv2.INTER_LINEAR)
    return spread[rows.start - first * cell_px : rows.stop - first * cell_px, :columns]


def even_light(cells: FloatImage, weight: FloatImage, cell_px: int, sigma_px: float) -> FlatField:
    """The even light behind the light of cells; see ``flat_field``.

    Parameters
    ----------
    cells : mean light of each cell, zero where it is outside the region
    weight : share of each cell that is inside
    """
    cells = np.maximum(cells, DARKEST) / np.maximum(weight, np.float32(1e-3))
    held = weight > 0.25
    if not held.any():
        held = weight > 0
    log_cells = np.log(np.maximum(cells, DARKEST))
    # What is smoothed is the light beside the fitted surface: smoothing the light itself
    # would bend it at the edges of the region, where there are cells on one side only.
    # Far outside the region the fitted surface may run off beyond all numbers.
    low, high = float(log_cells[held].min()), float(log_cells[held].max())
    wide = log_light = np.clip(bulk_of(log_cells, held), low - FURTHEST, high + FURTHEST)
    beside = cells / np.exp(wide)
    sigma = max(sigma_px / cell_px, 0.5)
    before = None
    for _ in range(ROUNDS):
        kept = _near(log_cells - log_light, held)
        if before is not None and np.array_equal(kept, before):
            break  # by the same cells the light would come out the same
        before = kept
        share = np.where(kept, weight, np.float32(0))
        held_near, bend = in_two(lambda one: _smooth(one, sigma), share, beside * share)
        bend /= np.maximum(held_near, np.float32(1e-6))
        # Where nothing near was kept, the fitted surface goes on carrying the light.
        bend = np.where(held_near > 0.02, np.log(np.maximum(bend, DARKEST)), 0)
        log_light = wide + bend
    light = np.exp(log_light).astype(np.float32)
    return FlatField(light, cells / light, weight, cell_px)


def flatten(linear: FloatImage, field: FlatField) -> FloatImage:
    """Divide the light of a picture by the light that fell on it; sound surface is near 1."""
    gain = from_cells(1 / field.light, field.cell_px, linear.shape, smooth=True)
    return cv2.multiply(linear, np.ascontiguousarray(gain))


def inverse_of(light: RatioImage) -> RatioImage:
    """Bright made dark and dark bright, by the same factor; of pictures, or of lists of pixels."""
    if light.ndim > 1:
        return cv2.divide(scale=ONE * ONE, src2=cv2.max(light, 1), dtype=cv2.CV_16U)
    # OpenCV takes a list of one for a number.
    light = np.float32(ONE * ONE) / np.maximum(light, 1)
    return np.minimum(np.rint(light), 65_535).astype(np.uint16)


def log_of(light: RatioImage) -> NDArray[np.float32]:
    """Light in log units; of none, as little as can be told."""
    light = np.maximum(light, np.uint16(1)).astype(np.float32)
    return np.log(light, out=light)


def as_ratio(light: NDArray[np.number]) -> NDArray[np.float32]:
    """Light relative to the even light as float32, from steps of it or as it is."""
    if light.dtype != np.uint16:
        return light.astype(np.float32, copy=False)
    ratio = light.astype(np.float32)
    ratio /= ONE
    return ratio


def as_share(contrast: float, *, dark: bool) -> float:
    """A contrast in log units as a share of the light of the surface."""
    return -math.expm1(-contrast) if dark else math.expm1(contrast)


def as_contrast(share: NDArray[np.float64], *, dark: bool) -> NDArray[np.float64]:
    """A share of the light of the surface, missing or added, as a contrast in log units."""
    sign = 1.0 if dark else -1.0
    return -sign * np.log(np.maximum(1 - sign * share, DARKEST_SHARE))


def _smooth(cells: FloatImage, sigma: float) -> FloatImage:
    """Gaussian average; a wide one of larger cells, which are as smooth as it is."""
    times = int(sigma / SMOOTHED_CELLS)
    if times < 2:
        return cv2.GaussianBlur(cells, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    size = cells.shape[::-1]
    coarse = (-(-size[0] // times), -(-size[1] // times))
    larger = cv2.resize(cells, coarse, interpolation=cv2.INTER_AREA)
    across, down = (sigma * few / all_of for few, all_of in zip(coarse, size, strict=True))
    larger = cv2.GaussianBlur(larger, (0, 0), across, sigmaY=down, borderType=cv2.BORDER_REPLICATE)
    return cv2.resize(larger, size, interpolation=cv2.INTER_LINEAR)


def _near(misfit: NDArray[np.floating], held: BoolImage) -> BoolImage:
    """Cells whose misfit is no larger than that of the bulk of the cells."""
    values = misfit[held]
    values = values[:: max(1, len(values) // SPREAD_CELLS)]
    middle = middle_of(values)
    spread = max(1.4826 * float(middle_of(np.abs(values - middle))), LEAST_SPREAD)
    return held & (np.abs(misfit - middle) <= CELL_LIMIT * spread)


def bulk_of(log_cells: FloatImage, held: BoolImage, degrees: Sequence[int] = DEGREES) -> FloatImage:
    """A polynomial through the bulk of the cells, by repeated least squares."""
    down, across = map(_powers, log_cells.shape)
    i, j = np.array([(i, total - i) for total in range(5) for i in range(total + 1)]).T
    step = max(1, int(np.sqrt(np.count_nonzero(held) / FITTED_CELLS)))
    given = held[::step, ::step]
    values = log_cells[::step, ::step].astype(np.float64)[given]
    if not len(values):
        return np.zeros_like(log_cells)
    terms = (down[::step, None, j] * across[None, ::step, i]).reshape(-1, len(i))
    terms = terms.compress(given.ravel(), axis=0)
    factors = np.zeros(len(i))
    factors[0] = middle_of(values)
    before, fitted = np.zeros(len(values), bool), -1
    for degree in degrees:
        used = (degree + 1) * (degree + 2) // 2
        kept = _near(values - terms @ factors, np.ones(len(values), bool))
        if np.count_nonzero(kept) < 8 * used or degree == fitted and np.array_equal(kept, before):
            continue  # by too few of them, or by those that the surface was fitted to before
        before, fitted = kept, degree
        few = terms.compress(kept, axis=0)[:, :used]
        factors[:] = 0
        # A whisker of ridge: a region may leave some of the terms undecided.
        ridge = 1e-9 * len(few) * np.eye(used)
        factors[:used] = np.linalg.solve(few.T @ few + ridge, few.T @ values[kept])
    grid = np.zeros((5, 5))
    grid[j, i] = factors
    return (down @ grid @ across.T).astype(np.float32)


@lru_cache(maxsize=32)
def _powers(length: int) -> NDArray[np.float64]:
    """Chebyshev polynomials of degree 0 to 4: powers that hardly depend on each other."""
    return np.polynomial.chebyshev.chebvander(np.linspace(-1, 1, length), 4)
