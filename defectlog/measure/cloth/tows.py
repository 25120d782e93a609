"""How far along its own tows a cloth goes before it looks the same again."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import both
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import LOOK_PX_PER_MM, Recurrence, tops_of
from defectlog.measure.cloth.weave_direction import weave_direction

# Of the strongest repeat: what is a repeat at all, what is as strong as that of whole tows, and
# what the strongest along the tows still may be.
STRONG, AS_GOOD, LEAST = 0.6, 0.9, 0.3
ALONG_DEG = 9.0
UNEVEN = 0.7  # one way's repeat as a share of the other's: less, and it is half a repeat


@dataclass(frozen=True, slots=True)
class TowRepeats:
    """One repeat of the cloth along the tows of either family, in pixels.

    ``ways`` are two (rows, columns); ``nearest`` is the length of the shortest repeat in any
    direction, one and a half pitches of plain weave and of twill.
    """

    ways: tuple[FloatArray, FloatArray]
    nearest: float

    @property
    def pitch(self) -> float:
        """From one tow to the next."""
        return self.nearest / math.sqrt(2)

    def doubled(self) -> "TowRepeats":
        """Every second of the repeats."""
        return replace(self, ways=(2 * self.ways[0], 2 * self.ways[1]))


def tow_repeats(surface: Surface) -> TowRepeats | None:
    """Find the repeats of a cloth along its tows; None where it shows none.

    Parameters
    ----------
    surface : evenly lit

    Notes
    -----
    Of all places where the cloth looks like itself, those along the tows lie on the same tow:
    there its edges, its gaps and its tone are its own again.
    """
    seen = surface.recurs()
    if seen is None:
        return None
    coarsely = min(surface.px_per_mm, LOOK_PX_PER_MM)
    (heights, tops), direction = both(
        lambda: _tops(seen), lambda: weave_direction(seen.light, seen.held, px_per_mm=coarsely)
    )
    if len(tops) < 2:
        return None
    if direction is None:
        direction = weave_direction(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm)
    if direction is None:
        # Dense voids leave no direction to gradients. Along its tows cloth is the most like itself.
        down, across = tops[heights.argmax()]
        direction = math.degrees(math.atan2(-down, across)) % 90
    ways = [_along(heights, tops, math.radians(direction + turn)) for turn in (0, 90)]
    if any(way is None for way in ways):
        return None
    lengths = [math.hypot(*way) for way in ways]
    for one, other in ((0, 1), (1, 0)):
        if lengths[one] < UNEVEN * lengths[other]:
            ways[one] = ways[one] * round(lengths[other] / lengths[one])
    nearest = float(np.hypot(*tops[heights > STRONG * heights.max()].T).min())
    return TowRepeats((ways[0] * seen.shrink, ways[1] * seen.shrink), nearest * seen.shrink)


def _tops(seen: Recurrence) -> tuple[FloatArray, FloatArray]:
    """Heights (n,) and places (n, 2) of the repeats, to parts of a pixel."""
    # Squares moved far have little left in common: heights are told as if they had all.
    size = seen.repeat.shape[0]
    hann = np.hanning(size)
    faded = np.fft.fftshift(np.fft.irfft(np.abs(np.fft.rfft(hann)) ** 2, size))
    faded /= faded.max()
    whole = seen.repeat / np.maximum(np.outer(faded, faded), 0.05)
    smooth, row, column = tops_of(whole)
    inner = (row > 0) & (row < size - 1) & (column > 0) & (column < size - 1)
    row, column = row[inner], column[inner]
    places = np.column_stack(
        [
            at + _between(*(smooth[row + k * down, column + k * across] for k in (-1, 0, 1)))
            for at, down, across in ((row, 1, 0), (column, 0, 1))
        ]
    )
    return smooth[row, column].astype(np.float64), places - size // 2


def _between(before: FloatArray, top: FloatArray, after: FloatArray) -> FloatArray:
    """Where between three values the top of a parabola through them is, from the middle one."""
    return 0.5 * (before - after) / np.minimum(before - 2.0 * top + after, -1e-9)


def _along(
    heights: NDArray[np.float64], tops: NDArray[np.float64], way: float
) -> NDArray[np.float64] | None:
    """The shortest of the strongest repeats in about a direction, if it has any."""
    unit = np.array([-math.sin(way), math.cos(way)])
    length = np.hypot(*tops.T)
    along = tops @ unit
    chosen = np.abs(along) > math.cos(math.radians(ALONG_DEG)) * length
    chosen &= heights > LEAST * heights.max()
    if not chosen.any():
        return None
    chosen &= heights > AS_GOOD * heights[chosen].max()
    best = np.flatnonzero(chosen)[length[chosen].argmin()]
    return tops[best] * np.sign(along[best])
