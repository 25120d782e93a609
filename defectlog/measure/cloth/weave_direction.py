"""Which way the tows of a surface run, and how directions lie to them."""

import cmath
import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage, FloatImage, RatioImage, as_ratio
from defectlog.measure.arrays.quantiles import quantiles_of

FloatArray = NDArray[np.float64]

# Gradients that favour two directions square to each other so much are those of cloth.
WOVEN = 0.12
PATCH_PX = 512


def weave_direction(
    ratio: RatioImage | FloatImage, inspected: BoolImage, *, px_per_mm: float
) -> float | None:
    """Direction of one of the two families of tows, 0–90 degrees anticlockwise from the row.

    None where the surface favours no direction. From the directions of the gradients, taken
    four times so that those of warp and weft add up.
    """
    rows, columns = ratio.shape
    top, left = max(0, (rows - PATCH_PX) // 2), max(0, (columns - PATCH_PX) // 2)
    window = (slice(top, top + PATCH_PX), slice(left, left + PATCH_PX))
    patch = np.clip(as_ratio(ratio[window]), 0.6, 1.6)
    patch = cv2.GaussianBlur(patch, (0, 0), float(np.clip(0.12 * px_per_mm, 1.2, 6.0)))
    across, down = cv2.Sobel(patch, cv2.CV_32F, 1, 0), cv2.Sobel(patch, cv2.CV_32F, 0, 1)
    held = cv2.erode(inspected[window].view(np.uint8), np.ones((9, 9), np.uint8)) > 0
    across, down = across[held], down[held]
    size = np.sqrt(across * across + down * down)
    if not size.size:
        return None
    # Voids have gradients ten times those of cloth: each pixel has a say, not each step.
    (limit,) = quantiles_of(size, 0.8)
    if limit == 0:  # of a drawing or a burnt-out picture, which has no cloth to speak of
        return None
    weight = np.minimum(size, limit)
    np.maximum(size, np.float32(1e-12), out=size)
    across /= size
    down /= size
    # As complex numbers squared for twice the angle, and once more for four times.
    real, imaginary = across * across - down * down, -2 * across * down
    four = complex(
        (weight * (real * real - imaginary * imaginary)).sum(),
        2 * (weight * (real * imaginary)).sum(),
    )
    if abs(four) < WOVEN * weight.sum():
        return None
    return math.degrees(cmath.phase(four)) / 4 % 90


def from_weave(direction_deg: FloatArray, weave_deg: float) -> FloatArray:
    """Angle of each direction to the nearer family of tows, 0–45 degrees."""
    off = np.mod(direction_deg - weave_deg, 90.0)
    return np.minimum(off, 90.0 - off)
