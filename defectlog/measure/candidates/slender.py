"""Slender voids: as thin as a hair, but lying along the tows as others do that are known."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.outlines.judging import LOST_PX, THIN
from defectlog.measure.outlines.shapes import Shapes
from defectlog.measure.outlines.sizing import Objects

# So many others that are straight and so much longer than wide have to be known, and this share
# of them lie along two directions at right angles, but for so much.
LEAST, LONGER, MOST_OF, OFF_DEG = 5, 2.5, 0.9, 10.0
# It is no longer than so many times the longest of them but the tenth part, and as strong as all.
LENGTHS, AS_STRONG = 1.5, 0.8
# A curve is that much wider as an ellipse than it is itself.
CURVED = 1.3
STEP = 4  # pixels, what is near is looked at in steps of


def spared(
    verdicts: list[tuple[BoolImage, str]], objects: Objects, shape: tuple[int, int]
) -> list[tuple[BoolImage, str]]:
    """Verdicts on objects without those on slender voids, that they are thin as hairs are.

    Parameters
    ----------
    verdicts : (n,) bool each, and why
    objects : (n,)
    shape : of the picture

    Notes
    -----
    Air that is shut in along tows makes voids of all lengths, one as wide as the other: where
    shorter ones are known, one that is a little longer is of them. A hair lies any way, bends, and
    goes on.
    """
    thin = np.logical_or.reduce([verdict for verdict, why in verdicts if why == THIN])
    if not thin.any():
        return verdicts
    rest = np.logical_or.reduce([verdict for verdict, why in verdicts if why != THIN])
    slender = _along_the_others(objects, thin & ~rest, ~(thin | rest))
    if slender.any():
        slender &= _is_alone(objects.shapes, thin, shape)
    return [(verdict & ~slender if why == THIN else verdict, why) for verdict, why in verdicts]


def _along_the_others(objects: Objects, thin: BoolImage, known: BoolImage) -> BoolImage:
    """Which thin objects lie along the long ones that are known, as strong as voids are."""
    shapes, height = objects.shapes, objects.rise.height
    straight = shapes.breadth < 2 * CURVED * objects.half
    long = known & straight & (shapes.length > LONGER * shapes.breadth)
    if np.count_nonzero(long) < LEAST:
        return np.zeros_like(thin)
    turn = np.exp(4j * np.radians(shapes.direction_deg))  # alike at right angles
    middle = turn[long].mean()
    along = np.degrees(np.abs(np.angle(turn * np.conj(middle)))) / 4 < OFF_DEG
    if np.count_nonzero(long & along) < MOST_OF * np.count_nonzero(long):
        return np.zeros_like(thin)
    longest = float(np.quantile(shapes.length[long & along], 0.9))
    strong = height > AS_STRONG * np.median(height[known])
    return thin & along & strong & straight & (shapes.length < LENGTHS * longest)


def _is_alone(shapes: Shapes, thin: BoolImage, shape: tuple[int, int]) -> BoolImage:
    """Which thin objects have no other within the reach a hair may be lost for."""
    pixels = np.flatnonzero(thin[shapes.label])
    row, column = (axis // STEP for axis in np.divmod(shapes.at[pixels], shape[1]))
    drawn = np.zeros(tuple(side // STEP + 1 for side in shape), np.uint8)
    drawn[row, column] = 1
    reach = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (LOST_PX // 2 // STEP + 1,) * 2)
    _, near = cv2.connectedComponents(cv2.dilate(drawn, reach), ltype=cv2.CV_32S)
    group = np.zeros(len(thin), dtype=np.int64)
    group[shapes.label[pixels]] = near[row, column]
    return thin & (np.bincount(group[thin], minlength=group.max() + 1) == 1)[group]
