"""What the weave brings back on a map of the cloth: its pattern, cell by cell.

An outline that is drawn on cloth averaged over a tow or two still follows light tows out and dark
ones in. Where the same tows come up again, a repeat of the weave away, they show how much of that
is the cloth's own.
"""

import numpy as np

from defectlog.measure.arrays.light import BoolImage, FloatImage
from defectlog.measure.cloth.cloth_maps import averaged
from defectlog.measure.cloth.weave import Vector, weave_repeats

REPEAT_MM = 4.0  # deviation of the Gaussian that averages over a whole repeat


def comes_again(own: FloatImage, held: BoolImage, cell_mm: float) -> FloatImage:
    """What of the cloth comes up again at the repeats of its weave.

    Parameters
    ----------
    own : (M, N) the cloth, in log units of light
    held : (M, N) bool, cells of it that show cloth and nothing else
    cell_mm : along a cell

    Returns
    -------
    (M, N), about 0 on the average; 0 where the weave has no repeats, or none that can be seen.

    Notes
    -----
    The mean over all places a repeat away, either way: whatever a void or mirrored light adds
    there is no part of it, for it stays out of ``held`` or changes over more than a repeat.
    Cloth that does not come again as it was counts as far as it does, by least squares.
    """
    rest = np.where(held, own - averaged(own, held, REPEAT_MM / cell_mm), np.float32(0))
    total, often = np.zeros_like(rest), np.zeros_like(rest)
    shown = held.astype(np.float32)
    for down, across in weave_repeats(np.exp(rest), held, px_per_mm=1 / cell_mm):
        for by in ((down, across), (-down, -across)):
            here, there = _overlap(by, held.shape), _overlap((-by[0], -by[1]), held.shape)
            total[here] += rest[there]
            often[here] += shown[there]
    again = total / np.maximum(often, np.float32(1))
    alike, all_of_it = float((again * rest).sum()), float((again * again)[held].sum())
    return again * np.float32(np.clip(alike / max(all_of_it, 1e-9), 0, 1))


def _overlap(by: Vector, shape: tuple[int, ...]) -> tuple[slice, ...]:
    """Where an image that is moved lies on its own place, by less than its size."""
    return tuple(
        slice(max(off, 0), side + min(off, 0)) for off, side in zip(by, shape, strict=True)
    )
