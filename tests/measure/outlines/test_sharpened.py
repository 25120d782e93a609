"""Voids in pictures that a camera has sharpened."""

import cv2
import numpy as np
import pytest

from defectlog.measure.outlines import outline
from defectlog.measure.outlines.sharpened import SEAM, moved_inwards, seam_of
from defectlog.measure.outlines.sizing import Objects, outlined_objects, sizes_of
from defectlog.measure.outlines.zone import zone_of
from tests.measure.outlines.test_pinholes import blurred_discs


def objects_of(diameter: float, contrast: float, amount: float) -> Objects:
    """Discs on a surface, in a picture sharpened by so much."""
    value = (0.25 * blurred_discs(diameter / 2, 0.9, contrast)) ** (1 / 2.2)
    # An unsharp mask: what differs from the values round it is made to differ by so much more.
    value += amount * (value - cv2.GaussianBlur(value, (0, 0), 1.2))
    ratio, sign = (value**2.2 / 0.25).astype(np.float32), np.sign(contrast)
    whole = np.ones(ratio.shape, bool)
    seeds = zone_of(sign * (1 - ratio) > abs(contrast) / 2, ratio, whole, sign=sign)
    mask = outline.outlined(seeds, outline.rise_of(seeds)).mask
    return outlined_objects(zone_of(mask, ratio, whole, sign=sign), mask, np.zeros(0, np.int64))


@pytest.mark.parametrize("contrast", [0.6, 0.9, -0.8])
@pytest.mark.parametrize("diameter", [8.0, 12.0, 16.0])
def test_voids_are_as_large_in_a_sharpened_picture(diameter, contrast):
    objects = objects_of(diameter, contrast, 0.6)

    sizes = sizes_of(objects, objects.counted > 0, dark=contrast > 0)

    true = np.pi * diameter**2 / 4
    assert sizes.area.mean() == pytest.approx(true, rel=0.015)
    # How wide the mask was is not known.
    assert sizes.unsure_px.mean() > 0.003 * true


def test_sharpening_is_seen_by_the_seam_beside_voids():
    seen = [
        seam_of(one.rim, one.rise.height, one.half) / SEAM
        for one in (objects_of(10.0, 0.6, amount) for amount in (0.0, 0.3, 0.6))
    ]

    assert seen[0] == 0.0
    assert 0.3 < seen[1] < 0.7
    assert seen[2] > 1.0


def test_few_voids_or_small_ones_say_nothing_of_sharpening():
    rim, height = np.full(8, -0.02), np.full(8, 0.5)

    assert seam_of(rim, height, np.full(8, 5.0)) == pytest.approx(0.04)
    assert seam_of(rim[1:], height[1:], np.full(7, 5.0)) == 0.0
    assert seam_of(rim, height, np.full(8, 3.0)) == 0.0
    # Among cloth that goes twice as far either way the mean of eight says nothing.
    assert seam_of(rim + 0.04 * np.tile([1, -1], 4), height, np.full(8, 5.0)) == 0.0


def test_outlines_move_to_the_darker_side():
    # Light 0.25 of the surface's is 0.25^(1/2.2) = 0.5325 in grey values, halfway in light 0.625
    # is 0.8076, the mean of both values 0.7663. The slope there is 0.75 / (σ √(2π)) in light,
    # times 0.625^(1/2.2 - 1) / 2.2 = 0.5874 in values: 0.1757 for a blur of 1 px. A fourth of
    # 0.0413 over that is 0.0588 px.
    assert moved_inwards(np.array([0.75]), 1.0, dark=True) == pytest.approx(0.0588, rel=0.01)
    assert moved_inwards(np.array([0.75]), 1.0, dark=False) < 0
