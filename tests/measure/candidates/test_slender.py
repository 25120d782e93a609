"""Voids as thin and long as a piece of a hair, that lie along the tows."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import ONE
from defectlog.measure.candidates.slender import spared
from defectlog.measure.outlines.judging import THIN
from defectlog.measure.outlines.sizing import outlined_objects
from defectlog.measure.outlines.zone import zone_of

Slits = list[tuple[int, int, int, int]]  # x, y, length, direction

# Voids of 3 by 36 px along two directions at right angles, and some that are longer.
SHORT: Slits = [(40 + 60 * k, 40 + 60 * i, 36, 90 * (k % 2)) for k in range(5) for i in range(2)]
LONG: Slits = [(60, 250, 52, 0), (180, 250, 52, 90), (300, 250, 52, 0)]


def hairs_of(slits: Slits, strength: float = 0.5) -> int:
    """How many of some slits 3 px across are hairs; the short ones are darker by half."""
    mask = np.zeros((400, 500), np.uint8)
    light = np.full(mask.shape, ONE, np.uint16)
    for x, y, length, turn in slits:
        one = np.zeros_like(mask)
        across, down = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        ends = [(round(x + k * across), round(y + k * down)) for k in (-length / 2, length / 2)]
        cv2.line(one, *ends, 1, 2)
        light[one > 0] = round(ONE * (0.5 if length == 36 else 1 - strength))
        mask |= one
    objects_mask = mask > 0
    zone = zone_of(objects_mask, light, np.ones_like(objects_mask), sign=1.0)
    objects = outlined_objects(zone, objects_mask, np.zeros(0, np.int64))
    thin = objects.is_thin(mask.shape)
    assert np.count_nonzero(thin) == sum(length > 36 for *_, length, _ in slits)  # as hairs are
    (left, _), *_ = spared([(thin, THIN)], objects, mask.shape)
    return int(left.sum())


def test_longer_ones_along_the_others_are_voids():
    assert hairs_of(SHORT + LONG) == 0


def test_one_that_lies_aslant_may_be_a_hair():
    assert hairs_of([*SHORT, (180, 250, 52, 40)]) == 1


def test_one_that_is_fainter_may_be_a_hair():
    assert hairs_of(SHORT + LONG, strength=0.3) == 3


def test_one_that_goes_on_a_little_further_on_may_be_a_hair():
    assert hairs_of([*SHORT, (100, 250, 52, 0), (166, 252, 52, 0)]) == 2


def test_one_far_longer_than_the_others_may_be_a_hair():
    assert hairs_of([*SHORT, (200, 250, 120, 0)]) == 1


def test_by_themselves_they_may_be_hairs():
    assert hairs_of(LONG) == 3
