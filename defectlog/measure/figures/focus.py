"""Whether a photo without voids is sharp enough to have shown any."""

from itertools import islice
from typing import Literal

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_halves
from defectlog.measure.arrays.light import BoolImage, GreyImage
from defectlog.measure.arrays.pixels import FloatArray

Focus = Literal["blurred", "untold"]

# The picture is smoothed by these standard deviations, in pixels. The energy of the gradients of
# white noise falls with them as stated, which the tests work out again; that of what a camera
# saw falls by a power of them, and hardly at all while they are less than its blur.
SCALES = (1.0, 1.5, 2.0, 3.0)
OF_NOISE = (1.0, 0.2797, 0.1006, 0.0218)
POWERS = np.arange(-0.2, 3.01, 0.05)
# Sharp pictures of three renderers fall by 0.65 and more, those blurred by 8 pixels by 0.5 and
# less, or have nothing left but noise.
BLURRED = 0.5
ALL_NOISE = 0.6
WELL_FITTED = 0.02  # sum of the squares of relative misfits; otherwise nothing is said
SIDES, MOST = (256, 128, 64), 6
EDGE = 10  # of a window, where smoothing knows nothing of what lies beyond


def focus_of(grey: GreyImage, inspected: BoolImage) -> Focus | None:
    """Whether the picture of a surface is blurred.

    Parameters
    ----------
    grey : (M, N) uint8
    inspected : (M, N) bool

    Returns
    -------
    Focus or None
        ``"untold"`` where there is nothing to see beyond the noise of the camera, on a smooth gel
        coat or far out of focus; None where nothing speaks against the picture.
    """
    windows = _windows(grey, inspected)
    if not windows:
        return None
    found = by_halves(
        lambda part: [_energies(window) for window in windows[part]], len(windows), least=2
    )
    power, noise, misfit = _fitted(np.mean(sum(found, []), axis=0))
    if misfit >= WELL_FITTED:
        return None
    if noise >= ALL_NOISE:
        return "untold"
    return "blurred" if power <= BLURRED else None


def _windows(grey: GreyImage, inspected: BoolImage) -> list[GreyImage]:
    """A few squares that are surface all over, from the middle of the picture outwards."""
    for side in SIDES:
        rows, columns = (range(0, length - side + 1, side) for length in grey.shape)
        places = [
            (abs(2 * y + side - grey.shape[0]) + abs(2 * x + side - grey.shape[1]), y, x)
            for y in rows
            for x in columns
        ]
        squares = ((slice(y, y + side), slice(x, x + side)) for _, y, x in sorted(places))
        held = list(islice((square for square in squares if inspected[square].all()), MOST))
        if held:
            return [grey[square] for square in held]
    return []


def _energies(window: GreyImage) -> FloatArray:
    """Mean square of the gradient at each of the scales."""
    light = window.astype(np.float32)
    found = []
    for scale in SCALES:
        smooth = cv2.GaussianBlur(light, (0, 0), scale)
        across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
        down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
        found.append(float(np.mean((across**2 + down**2)[EDGE:-EDGE, EDGE:-EDGE])))
    return np.array(found)


def _fitted(energies: FloatArray) -> tuple[float, float, float]:
    """The power by which what was seen falls, the share of noise at the finest scale, the misfit.

    By least squares of relative errors, with no less than none of either.
    """
    if not energies.all():  # a drawing, all of one shade here
        return 0.0, 0.0, np.inf
    seen = np.array(SCALES) ** -POWERS[:, None]
    pairs = np.stack([np.broadcast_to(OF_NOISE, seen.shape), seen], axis=-1) / energies[:, None]
    sums, products = pairs.sum(axis=1), pairs.transpose(0, 2, 1) @ pairs
    parts = np.linalg.solve(products, sums[..., None])[..., 0]
    # What the larger of both is if there is none of the other.
    alone = sums / np.diagonal(products, axis1=1, axis2=2)
    alone[parts < parts.max(axis=1, keepdims=True)] = 0
    parts = np.where(parts.min(axis=1, keepdims=True) < 0, alone, parts)
    misfits = (((pairs @ parts[..., None])[..., 0] - 1) ** 2).sum(axis=1)
    best = misfits.argmin()
    return float(POWERS[best]), float(parts[best, 0] / energies[0]), float(misfits[best])
