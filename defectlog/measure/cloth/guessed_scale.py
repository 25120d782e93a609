"""How near a picture without a scale was taken: its tows tell.

What is set in millimetres, from how far light is smoothed to how wide a patch is, has to do with
tows. They lie a millimetre or two apart on most cloth, however much of it a picture shows.
"""

import math

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, GreyImage, linear_light
from defectlog.measure.cloth.weave import LOOK_PX_PER_MM, recurrence, tops_of

# A photo is usually taken to show about a third of a metre, from no nearer than 8 px/mm.
USUAL_WIDTH_MM, LEAST_PX_PER_MM = 330.0, 8.0
# The shortest repeat of plain cloth and of twill is to the next crossing aslant, of tows that lie
# 1.6 mm apart in the middle of what shops lay up (from practice); it has such a share of the
# strongest.
REPEAT_MM, AS_STRONG = 2.2, 0.3
# The middle of a picture is enough, so much smaller, and light is evened out over some tows.
MOST_PX, SIDE_PX, SMOOTHED_PX = 2048, 512, 49


def guessed_px_per_mm(grey: GreyImage, inside: BoolImage) -> float:
    """Guess how many pixels a millimetre takes.

    Parameters
    ----------
    grey : (M, N) uint8
    inside : (M, N) bool, the region

    Notes
    -----
    Both what is usual and what tows say may be off by a factor of two and more: where tows are
    larger, the guess is midway between both, as factors go. Where they are smaller it is what is
    usual. Glare and folds that are taken for wider than they are look like voids.
    """
    usual = max(max(grey.shape) / USUAL_WIDTH_MM, LEAST_PX_PER_MM)
    return math.sqrt(usual * max(usual, _shortest_repeat_px(grey, inside) / REPEAT_MM))


def _shortest_repeat_px(grey: GreyImage, inside: BoolImage) -> float:
    """Of the repeats of the weave in the middle of a region the shortest; 0 if it has none."""
    left, top, width, height = cv2.boundingRect(inside.view(np.uint8))
    side = min(MOST_PX, width, height)
    shrink = max(1.0, side / SIDE_PX)
    top, left = top + (height - side) // 2, left + (width - side) // 2
    window = (slice(top, top + side), slice(left, left + side))
    size = (round(side / shrink),) * 2
    held = cv2.resize(inside[window].view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    if not held.any():
        return 0.0
    light = np.log(
        linear_light(cv2.resize(grey[window], size, interpolation=cv2.INTER_AREA)) + 1e-3
    )
    light -= cv2.blur(light, (SMOOTHED_PX, SMOOTHED_PX))
    seen = recurrence(np.exp(light), held, px_per_mm=LOOK_PX_PER_MM)
    if seen is None:
        return 0.0
    strength, row, column = tops_of(seen.repeat)
    if not len(row):
        return 0.0
    far = np.hypot(*(at - strength.shape[0] // 2 for at in (row, column)))
    strong = strength[row, column]
    return float(far[strong >= AS_STRONG * strong.max()].min()) * shrink
