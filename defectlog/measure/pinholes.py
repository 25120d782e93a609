"""The size of pinholes only a few pixels across, from how much light they take away."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import chndtr

from defectlog.measure.outline import FloatArray

# Above this the pixels themselves are counted; below, blur and the pixel grid decide
# what a count says, but not the sum of the missing light.
COUNTED_FROM_PX = 9.0
SHARPEST_PX = 0.45
SOFTEST_PX = 4.0
USUAL_PX = 0.9  # blur of a sharp phone picture, where the picture itself cannot say


def blur_of(edge_px: FloatArray, diameter_px: FloatArray) -> float | None:
    """The blur of a picture, from the edges of its larger voids.

    A straight edge blurred by a Gaussian of standard deviation σ falls from 65 to 35 % over
    0.7706 σ. None if fewer than five voids are large enough to tell.
    """
    clear = (diameter_px > COUNTED_FROM_PX) & (diameter_px < 80)
    if np.count_nonzero(clear) < 5:
        return None
    # Noise and rough outlines only ever widen an edge, so the sharper half speaks.
    return float(np.clip(np.quantile(edge_px[clear], 0.4) / 0.7706, SHARPEST_PX, SOFTEST_PX))


def blur_by_contrast(missing_px: FloatArray, plateau: FloatArray) -> float | None:
    """The blur that makes the contrast of resolved voids independent of their size."""
    usable = (missing_px > 0) & (plateau > 0)
    if np.count_nonzero(usable) < 20:
        return None
    total, level = missing_px[usable], plateau[usable]
    best, least = None, np.inf
    for sigma in np.arange(SHARPEST_PX, 2.5, 0.05):
        radius, contrast = disc_of(total, level, sigma)
        clear = radius > sigma
        if np.count_nonzero(clear) < 20:
            continue
        slope = np.polyfit(np.log(radius[clear]), np.log(contrast[clear]), 1)[0]
        if abs(slope) < least:
            best, least = float(sigma), abs(slope)
    return best


def disc_of(
    missing_px: FloatArray, plateau: FloatArray, sigma: float
) -> tuple[FloatArray, FloatArray]:
    """Radius and contrast of the disc that, blurred, shows this much light missing.

    Parameters
    ----------
    missing_px : (n,) sum of contrast over each void, in pixels
    plateau : (n,) mean contrast of its upper part
    sigma : blur of the picture, pixels

    Returns
    -------
    radius in pixels, contrast the void would show if fully resolved
    """
    ratio, shown, spread = _discs()
    seen = missing_px / np.maximum(plateau, 1e-9) / (np.pi * sigma**2)
    rho = np.interp(seen, spread, ratio)
    # Far above the table a void is all plateau.
    rho = np.where(seen > spread[-1], np.sqrt(np.maximum(seen, 0.0)), rho)
    contrast = plateau / np.interp(rho, ratio, shown)
    return rho * sigma, contrast


def pinhole_area(
    missing_px: FloatArray, plateau: FloatArray, sigma: float, usual_contrast: float | None
) -> FloatArray:
    """Areas in pixels of small voids.

    Below twice the blur a void's own contrast cannot be told from its size, and that
    of the picture's larger voids stands in; in between the two are blended.
    """
    radius, contrast = disc_of(missing_px, plateau, sigma)
    if usual_contrast is not None:
        own = np.clip(radius / sigma - 1.0, 0.0, 1.0)
        contrast = np.exp(own * np.log(contrast) + (1 - own) * np.log(usual_contrast))
        # A void is at least as strong as what is seen of it.
        contrast = np.maximum(contrast, plateau)
    return missing_px / contrast


@lru_cache(maxsize=1)
def _discs() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """For discs of radius ρ (in blurs): the plateau shown, and ρ² over it.

    The profile of a disc blurred by a Gaussian is a non-central chi-square distribution
    with two degrees of freedom; the plateau is taken as ``outline.levels_of`` takes it.
    """
    ratio = np.concatenate([np.arange(0.2, 3.0, 0.1), np.arange(3.0, 12.1, 0.5)])
    shown = np.empty_like(ratio)
    for k, rho in enumerate(ratio):
        r = np.linspace(0, rho + 5, 1200)
        profile = chndtr(rho**2, 2.0, r**2)
        plateau = profile[0]
        for share in (0.5, 0.7):
            upper = profile >= share * plateau
            plateau = float((profile * r)[upper].sum() / r[upper].sum())
        shown[k] = plateau
    return ratio, shown, ratio**2 / shown
