"""Patches that end sharply: pale ones, as dry fibre is, are told from glare by that."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, FloatImage

# Averaged over 2 mm a glint is no smaller; single tows at the top of the cloth's swing are.
LEAST_MM2 = 4.0
SHARP_EDGE_MM = 1.4
# Averaged over 2 mm, what ends at once rises by half of itself a millimetre; a glint mirrored
# in resin rises by less than a fifth.
STEEP_PER_MM, SHARP_SHARE = 0.22, 0.25
ABOUT = 4  # cells about a patch, that its edge is looked for in


def without_sharp(
    bright: BoolImage, mean: FloatImage, limit: float, *, cell_mm: float
) -> BoolImage:
    """Drop patches whose brightness ends within about a millimetre, all round or for a quarter.

    Parameters
    ----------
    bright : (M, N) bool, cells that may be glare
    mean : (M, N) their light over that of the surface, averaged
    limit : of that, beyond which cells are bright
    cell_mm : side of a cell

    Returns
    -------
    (M, N) bool

    Notes
    -----
    Wide patches bend the even light: they may seem to fade to one side, but glare ends
    sharply on none.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats(bright.view(np.uint8))
    areas = stats[:, cv2.CC_STAT_AREA] * cell_mm**2
    kept = np.zeros_like(bright)
    large = [label for label in range(1, len(stats)) if areas[label] >= LEAST_MM2]
    if not large:
        return kept
    slopes = [cv2.Sobel(mean, cv2.CV_32F, *axes, scale=1 / 8) for axes in ((1, 0), (0, 1))]
    slope = cv2.magnitude(*slopes) / np.float32(cell_mm)
    for label in large:
        left, top, width, height = stats[label, :4].tolist()
        near = (
            slice(max(top - ABOUT - 1, 0), top + height + ABOUT + 1),
            slice(max(left - ABOUT - 1, 0), left + width + ABOUT + 1),
        )
        patch = labels[near] == label
        if _is_glare(patch, mean[near], slope[near], limit, cell_mm):
            kept[near] |= patch
    return kept


def _is_glare(
    patch: BoolImage, mean: FloatImage, slope: FloatImage, limit: float, cell_mm: float
) -> bool:
    """Whether the brightness of a patch fades out; what lies about it is given with it."""
    peak = float(np.quantile(mean[patch], 0.9))
    if peak < limit:
        return True
    about = np.ones((2 * ABOUT + 1,) * 2, np.uint8)
    around = cv2.dilate(patch.view(np.uint8), about).view(np.bool_)
    quarter, three = 1 + 0.3 * (peak - 1), 1 + 0.7 * (peak - 1)
    wide = around & (mean > quarter)
    core = around & (mean > three)
    # The step between their outlines is the width of the edge, however ragged it is.
    between = np.count_nonzero(wide) - np.count_nonzero(core)
    edge = between / max(_length(wide | core), 1.0) * cell_mm
    if edge <= SHARP_EDGE_MM:
        return False
    beyond = around & (mean <= 0.5 * (1 + peak))
    rim = around & ~beyond & (cv2.dilate(beyond.view(np.uint8), np.ones((3, 3))) > 0)
    steep = float(np.mean(slope[rim] > STEEP_PER_MM * (peak - 1))) if rim.any() else 0.0
    return steep < SHARP_SHARE


def _length(cells: BoolImage) -> float:
    """Length of the outline of some cells, in cells (Crofton: sides overrate it by 4 / π)."""
    framed = cv2.copyMakeBorder(cells.view(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    across, down = framed[:, 1:] != framed[:, :-1], framed[1:] != framed[:-1]
    return (np.count_nonzero(across) + np.count_nonzero(down)) * np.pi / 4
