"""The light of the sound surface about each place, that what lies there is judged by."""

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_pieces
from defectlog.measure.arrays.light import (
    ONE,
    BoolImage,
    FloatImage,
    RatioImage,
    halved,
    inverse_of,
)
from defectlog.measure.arrays.quantiles import middle_of

# How far about a pixel the surface it is judged against may lie, and how much of it there
# has to be.
REACH_PX = 7
LEAST_SURFACE_PX = 20
# Beside a bright tow the mean is too light for a dark one: it gives way so far, from 0 to 1, to
# the least that the mean is within so many pixels of half the size.
NEAR_PX = 5
# Rows of half the size at a time: what is worked out on the way is several times as much as is
# kept.
STRIP_ROWS = 256
SAMPLED = 3  # of so many places one along a side, for what is usual


def half_light(light: RatioImage | FloatImage, *, inverse: bool = False) -> RatioImage:
    """Light at half the size, or its inverse: what is averaged over much more hardly changes."""
    half = np.empty(tuple(-(-side // 2) for side in light.shape), np.uint16)

    def tell(parts: list[slice]) -> None:
        for part in parts:
            own = _in_steps(light[2 * part.start : 2 * part.stop])
            half[part] = halved(inverse_of(own) if inverse else own)

    by_pieces(tell, len(half), piece=STRIP_ROWS)
    return half


def sound_light(
    clear: BoolImage, half: RatioImage, *, cloth: RatioImage | None = None
) -> RatioImage:
    """Mean light of the sound surface near, at half the size; 0 where too little is near.

    Parameters
    ----------
    clear : (M, N) bool, the sound surface
    half : light of all of it, from ``half_light``
    cloth : the cloth's own light, at half the size, if it is known: what is told is then its light,
        as much of it as the sound surface near has of its own usual light

    Notes
    -----
    Near the pixel, not round the object: a void may reach from a bright tow to a dark one.
    """
    rows = len(clear)
    lights = [half] if cloth is None else [half, cloth]
    means = [np.empty_like(one) for one in lights]

    def spread(parts: list[slice]) -> None:
        for part in parts:
            first = max(0, part.start - REACH_PX)
            about = slice(2 * first, min(rows, 2 * (part.stop + REACH_PX)))
            some = [one[first : -(-about.stop // 2)] for one in lights]
            for mean, near in zip(means, _averaged(some, clear[about]), strict=True):
                mean[part] = near[part.start - first :][: part.stop - part.start]

    by_pieces(spread, len(half), piece=STRIP_ROWS)
    return means[0] if cloth is None else _as_cloth(*means, cloth)


def _in_steps(light: RatioImage | FloatImage) -> RatioImage:
    return light if light.dtype == np.uint16 else cv2.multiply(light, ONE, dtype=cv2.CV_16U)


def _averaged(lights: list[RatioImage], clear: BoolImage) -> list[RatioImage]:
    """Means of what is clear near each place of half the size; 0 where that is too little."""
    held = (halved(clear.view(np.uint8) * np.uint8(255)) == 255).view(np.uint8)
    size = (REACH_PX, REACH_PX)
    near = cv2.boxFilter(held, cv2.CV_8U, size, normalize=False)
    enough = cv2.compare(near, LEAST_SURFACE_PX / 4, cv2.CMP_GE)
    means = []
    for light in lights:
        total = cv2.boxFilter(cv2.copyTo(light, held), cv2.CV_32F, size, normalize=False)
        means.append(cv2.copyTo(cv2.divide(total, near, dtype=cv2.CV_16U), enough))
    return means


def _as_cloth(sound: RatioImage, usual: RatioImage, cloth: RatioImage) -> RatioImage:
    """The light of cloth where the surface near is so light, and usually; over ``sound``."""
    some = (slice(None, None, SAMPLED),) * 2
    told = usual[some] > 0
    near = cv2.divide(sound[some], usual[some], dtype=cv2.CV_32F)[told]
    # What it is everywhere is how cloth was told, not its light.
    usually = float(middle_of(near)) if len(near) else 1.0

    def spread(parts: list[slice]) -> None:
        for part in parts:
            near = cv2.divide(sound[part], usual[part], scale=1 / usually, dtype=cv2.CV_32F)
            np.copyto(near, 1, where=usual[part] == 0)
            cv2.multiply(cloth[part], near, dst=sound[part], dtype=cv2.CV_16U)

    by_pieces(spread, len(sound), piece=STRIP_ROWS)
    return sound


def leaning(sound: RatioImage, lean: float) -> RatioImage:
    """Sound light that gives way to the least of it near, 0 where it was."""
    none = sound == 0
    darkest = np.where(none, np.uint16(65_535), sound)
    darkest = cv2.erode(darkest, np.ones((NEAR_PX, NEAR_PX), np.uint8))
    leaning = cv2.addWeighted(sound, 1 - lean, darkest, lean, 0)
    leaning[none] = 0
    return leaning
