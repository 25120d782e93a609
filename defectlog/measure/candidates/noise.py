"""The noise of a picture: evened out of faint voids, its specks told by those on the other side."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, as_share
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.cloth.strips import FINDING_BLUR_PX
from defectlog.measure.cloth.surface import Surface, recurs_of
from defectlog.measure.outlines.judging import middle_height
from defectlog.measure.outlines.outline import Rise, rise_of
from defectlog.measure.outlines.sound_light import half_light, sound_light
from defectlog.measure.outlines.zone import zone_of

# Of what counts as void so much may be noise.
MAY_BE_NOISE = 0.02
# A normal distribution goes five deviations as far as 3.04 times what 90 % of one side reach; what
# goes further on the other side, or is more of the surface, is no noise.
AS_NORMAL, RARE = 3.2, 0.005
# Where single pixels are off by so much of what voids rise by, the strongest pixels of a void are
# noise, halfway to them is too high, and some of the rest are lost for it: that makes large ones
# smaller by up to a tenth.
MUCH = 0.12
# No noise reaches so many deviations of single pixels.
FAR_BEYOND = 10.0


def hides_outlines(surface: Surface, found: Found, judged: Tail) -> bool:
    """Whether single pixels are too noisy to tell by them how the voids rise that were found.

    What rises by less than was asked of a pixel is no such void, but a piece of a hair or a fold.
    """
    if judged.bare or not found.kept.any():
        return False
    middle = middle_height(found.height[found.kept], found.area[found.kept])
    asked = as_share(judged.threshold, dark=found.look == "dark")
    return bool(asked <= middle < surface.noise / MUCH)


def without_noise(surface: Surface) -> Surface:
    """The surface with the noise of single pixels evened out of its light."""
    calm = cv2.GaussianBlur(surface.ratio, (5, 5), FINDING_BLUR_PX)
    recurs = recurs_of(calm, surface.inspected, surface.px_per_mm)
    return surface.changed(ratio=calm, recurs=recurs, noise=0.0, evened_px=FINDING_BLUR_PX)


def is_noise(
    rise: Rise, mask: BoolImage, surface: Surface, judged: Tail, *, sign: float
) -> BoolImage:
    """Objects no clearer than the specks that noise makes where no voids are.

    Parameters
    ----------
    rise : of the objects
    mask : (M, N) bool, where they lie
    surface : they lie on
    judged : the tail they were told by
    sign : 1.0 for dark voids, -1.0 for bright ones

    Returns
    -------
    (n,) bool

    Notes
    -----
    Noise goes as far to one side as to the other. So the specks on the other side, as far off as
    was asked of voids, say how many as clear are to be expected here: the least clear objects are
    left out until the rest hold a fiftieth of such at most (as false discoveries are held, with
    the other side for what is found by chance). Of dark objects alone: beside bright ones, gaps
    between tows lie on the other side.
    """
    clear = _clearness(rise)
    none = np.zeros(len(clear), dtype=bool)
    if sign < 0 or not _may_be_noisy(judged):
        return none
    if 0 < FAR_BEYOND * surface.noise < judged.threshold:  # 0 where it was evened out
        return none
    mirrored = beyond(surface, -sign, judged.threshold)
    if not 0 < np.count_nonzero(mirrored) < RARE * surface.inspected_px:
        return none
    half = half_light(surface.ratio, inverse=surface.is_inverse)
    sound = sound_light(surface.inspected & ~(mask | mirrored), half)
    zone = zone_of(
        mirrored,
        surface.ratio,
        surface.inspected,
        sign=-sign,
        sound=sound,
        inverse=surface.is_inverse,
    )
    order = np.sort(clear)
    by_chance = np.sort(_clearness(rise_of(zone)))
    as_clear = np.arange(len(order), 0, -1)
    chance = len(by_chance) - np.searchsorted(by_chance, order)
    enough = np.flatnonzero(chance <= MAY_BE_NOISE * as_clear)
    return clear < order[enough[0]] if len(enough) else np.ones(len(clear), dtype=bool)


def _may_be_noisy(judged: Tail) -> bool:
    """Whether voids begin where noise may reach, on a surface whose other side is noise."""
    if judged.bare or judged.is_two_tone or judged.threshold >= judged.careful:
        return False
    return judged.careful < AS_NORMAL * judged.reach


def _clearness(rise: Rise) -> FloatArray:
    """How clearly objects stand out of noise.

    As its specks are hardly wider than its grain, how far off they are tells more than how wide.
    """
    return rise.counted * rise.height**3
