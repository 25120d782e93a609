"""What cloth is like at each place, by the same tow further on.

Where light tows lie among dark ones, what is dark may be a tow, a gap or a void. Gaps and edges
go on along a tow, and come up again with the weave; voids do not.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.following import SmallCloth, Step, steps_along
from defectlog.measure.halves import in_two
from defectlog.measure.light import BoolImage, RatioImage
from defectlog.measure.pixels import FloatArray
from defectlog.measure.surface import Surface
from defectlog.measure.threshold import PLACES
from defectlog.measure.tows import TowRepeats

# Places that are compared lie at least so far apart: a patch is wider than a repeat.
APART_MM = 4.0
TIMES = tuple(range(1, PLACES // 2 + 1))  # forwards and backwards
FEWEST = 2  # places along one family of tows that say where its gaps are
STRIP_PX = 128
SAMPLED, LEAST_TOLD = 5, 1000  # of so many pixels one along a side, for how much is left


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """What the cloth is like by other places of its own tows.

    ``cloth`` is its light by the darker of both families, ``nearer`` by the one that is nearer
    to what is there; ``few`` where one of them has too few places. ``middle`` and ``left`` are
    the middle and the spread of the surface's light to that of ``cloth``, in log units.
    """

    cloth: RatioImage
    nearer: RatioImage
    few: BoolImage
    middle: float
    left: float


Places = tuple[tuple[Step, ...], tuple[Step, ...]]  # along either family of tows


def places_along(surface: Surface, repeats: TowRepeats) -> Places | None:
    """Which places of a cloth to compare; None where its tows can't be followed.

    Parameters
    ----------
    surface : evenly lit
    repeats : of its weave
    """
    cloth = SmallCloth.of(surface.smooth, surface.inspected, repeats.nearest)
    if cloth is None:
        return None

    def along(way: FloatArray) -> tuple[Step, ...] | None:
        apart = max(1, math.ceil(APART_MM * surface.px_per_mm / math.hypot(*way)))
        return steps_along(cloth, way, tuple(apart * k for k in TIMES))

    one, other = in_two(along, *repeats.ways)
    return None if one is None or other is None else (one, other)


def likeness(surface: Surface, places: Places) -> Likeness | None:
    """Compare each place of a cloth with others; None where these say too little.

    Parameters
    ----------
    surface : evenly lit
    places : of the same cloth

    Notes
    -----
    By either family of tows the cloth is as the second brightest of six places, as some of them
    may be void. A gap is dark by one family alone: the darker of the two counts.
    """
    cloth, nearer, few = _lights(surface, places)
    some = (slice(None, None, SAMPLED),) * 2
    told = surface.inspected[some] & ~few[some]
    if np.count_nonzero(told) < LEAST_TOLD:
        return None
    rest = log_of(surface.smooth[some][told]) - log_of(cloth[some][told])
    return Likeness(cloth, nearer, few, *middle_and_spread(rest))


def _lights(surface: Surface, families: Places) -> tuple[RatioImage, RatioImage, BoolImage]:
    """The light of the cloth at each pixel by either family, and where too few places say so."""
    rows, columns = surface.smooth.shape
    light = surface.smooth
    if not surface.is_whole:
        light = cv2.copyTo(light, surface.inspected.view(np.uint8))
    cloth, nearer = np.empty_like(light), np.empty_like(light)
    few = np.empty(light.shape, dtype=bool)

    def told(part: slice) -> None:
        for top in range(part.start, part.stop, STRIP_PX):
            strip = slice(top, min(top + STRIP_PX, part.stop))
            own = surface.smooth[strip]
            seen = []
            for family in families:
                second, count = _second_brightest(light, family, strip)
                # Where a family says nothing, the other does; where neither, nothing is a void.
                seen.append((np.where(count > 0, np.maximum(second, 1), 0), count))
            (one, first), (other, then) = seen
            one, other = np.where(first, one, other), np.where(then, other, one)
            cloth[strip] = np.where(one, np.minimum(one, other), own)
            nearer[strip] = np.where(
                cv2.absdiff(own, one) < cv2.absdiff(own, other), one, np.where(other, other, own)
            )
            few[strip] = np.minimum(first, then) < FEWEST

    in_two(told, slice(0, rows // 2), slice(rows // 2, rows))
    return cloth, nearer, few


def _second_brightest(
    light: RatioImage, family: tuple[Step, ...], strip: slice
) -> tuple[RatioImage, NDArray[np.uint8]]:
    """The second brightest of the places compared with each pixel of a strip, and their count.

    Of one place alone it is that one's light, of none 0.
    """
    shape = (strip.stop - strip.start, light.shape[1])
    first, second = np.zeros((2, *shape), np.uint16)
    count = np.zeros(shape, np.uint8)
    for step in family:
        # What lies outside, or is not inspected, is 0: no light to go by.
        y, x = step.over(strip, shape[1])
        there = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        np.maximum(second, np.minimum(first, there), out=second)
        np.maximum(first, there, out=first)
        count += there > 0
    return np.where(count > 1, second, first), count


def log_of(light: RatioImage) -> NDArray[np.float32]:
    """Light in log units; of none, as little as can be told."""
    return np.log(np.maximum(light, np.uint16(1)).astype(np.float32))


def middle_and_spread(values: NDArray[np.float32]) -> tuple[float, float]:
    """The median, and the deviation as the median one tells it."""
    middle = np.median(values)
    return float(middle), 1.4826 * float(np.median(np.abs(values - middle)))
