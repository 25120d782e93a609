"""Light: from the values of a picture to linear light, and unevenness taken out of it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

FloatImage = NDArray[np.float32]
BoolImage = NDArray[np.bool_]
GreyImage = NDArray[np.uint8]

# Cameras store light raised to about 1 / 2.2. Halfway between two shades is only halfway in
# area, and an edge is only where it is, once that is undone.
GAMMA = 2.2
LINEAR = ((np.arange(256) / 255.0) ** GAMMA).astype(np.float32)
# A picture's black is never quite dark; keeps ratios and logarithms finite.
DARKEST = np.float32(1e-4)

# Cells beyond this many robust deviations of the smoothed light are not surface light
# (voids, glare, tracer yarns) and do not shape it.
CELL_LIMIT = 2.5
LEAST_SPREAD = 0.02  # of the light; nearer than this no cell is turned away
ROUNDS = 4
DEGREES = (2, 2, 4, 4, 4)  # of the surface fitted first, round by round
FITTED_CELLS = 3000  # as many say as much as all of them


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

    light: FloatImage  # (rows, columns) of cells
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
    rows, columns = -(-linear.shape[0] // cell_px), -(-linear.shape[1] // cell_px)
    size = (columns, rows)
    weight = cv2.resize(inside.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    cells = cv2.resize(np.where(inside, linear, np.float32(0)), size, interpolation=cv2.INTER_AREA)
    cells = np.maximum(cells, DARKEST) / np.maximum(weight, np.float32(1e-3))
    held = weight > 0.25
    if not held.any():
        held = weight > 0
    log_cells = np.log(np.maximum(cells, DARKEST))
    # What is smoothed is the light beside the fitted surface: smoothing the light itself
    # would bend it at the edges of the region, where there are cells on one side only.
    wide = log_light = _fitted(log_cells, held)
    beside = cells / np.exp(wide)
    sigma = max(sigma_px / cell_px, 0.5)
    for _ in range(ROUNDS):
        kept = _near(log_cells - log_light, held)
        share = np.where(kept, weight, np.float32(0))
        held_near = _smooth(share, sigma)
        bend = _smooth(beside * share, sigma) / np.maximum(held_near, np.float32(1e-6))
        # Where nothing near was kept, the fitted surface goes on carrying the light.
        bend = np.where(held_near > 0.02, np.log(np.maximum(bend, DARKEST)), 0)
        log_light = wide + bend
    light = np.exp(log_light).astype(np.float32)
    return FlatField(light, cells / light, weight, cell_px)


def flatten(linear: FloatImage, field: FlatField) -> FloatImage:
    """Divide the light of a picture by the light that fell on it; sound surface is near 1."""
    rows, columns = linear.shape
    # Cells are slightly stretched when the picture is not a whole number of them, so the
    # same stretch has to bring them back.
    light = cv2.resize(field.light, (columns, rows), interpolation=cv2.INTER_LINEAR)
    return cv2.divide(linear, light, dst=light)


def _smooth(cells: FloatImage, sigma: float) -> FloatImage:
    return cv2.GaussianBlur(cells, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)


def _near(misfit: NDArray[np.floating], held: BoolImage) -> BoolImage:
    """Cells whose misfit is no larger than that of the bulk of the cells."""
    values = misfit[held]
    middle = np.median(values)
    spread = max(1.4826 * float(np.median(np.abs(values - middle))), LEAST_SPREAD)
    return held & (np.abs(misfit - middle) <= CELL_LIMIT * spread)


def _fitted(log_cells: FloatImage, held: BoolImage) -> FloatImage:
    """A polynomial through the bulk of the cells, by repeated least squares."""
    rows, columns = log_cells.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j].astype(np.float32)
    powers = [(i, j) for total in range(5) for i in range(total + 1) for j in [total - i]]
    step = max(1, int(np.sqrt(np.count_nonzero(held) / FITTED_CELLS)))
    few = (slice(None, None, step), slice(None, None, step))
    values, given = log_cells[few].astype(np.float64), held[few]
    terms = np.stack([x[few] ** i * y[few] ** j for i, j in powers], axis=-1).astype(np.float64)
    fitted = np.full_like(values, np.median(values[given])) if given.any() else values
    factors = np.zeros(len(powers))
    factors[0] = fitted.flat[0]
    for degree in DEGREES:
        used = (degree + 1) * (degree + 2) // 2
        kept = _near(values - fitted, given) if given.any() else given
        if np.count_nonzero(kept) < 8 * used:
            continue
        factors[:] = 0
        factors[:used] = np.linalg.lstsq(terms[kept][:, :used], values[kept], rcond=None)[0]
        fitted = terms @ factors
    whole = np.zeros_like(x)
    for (i, j), factor in zip(powers, factors, strict=True):
        whole += np.float32(factor) * x**i * y**j
    return whole
