"""Whether a photo without voids is sharp enough to have shown any."""

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

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
    power, noise, misfit = _fitted(np.mean([_energies(window) for window in windows], axis=0))
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
        held = [square for square in squares if inspected[square].all()][:MOST]
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
    noise = np.array(OF_NOISE)
    tried = []
    for power in POWERS:
        pair = np.column_stack([noise, np.array(SCALES) ** -power]) / energies[:, None]
        parts = np.linalg.lstsq(pair, np.ones(len(SCALES)), rcond=None)[0]
        if parts.min() < 0:
            parts = _alone(pair, int(parts.argmax()))
        misfit = float(np.sum((pair @ parts - 1) ** 2))
        tried.append((misfit, float(power), float(parts[0] / energies[0])))
    misfit, power, share = min(tried)
    return power, share, misfit


def _alone(pair: NDArray[np.float64], which: int) -> NDArray[np.float64]:
    """The part of one of the two if there is none of the other."""
    column = pair[:, which]
    parts = np.zeros(2)
    parts[which] = column.sum() / (column @ column)
    return parts
