"""Voids that overlap as chance has it: their share of the surface is that of the Boolean model.

Discs of area A whose centres are a Poisson process of L on unit area cover 1 - exp(-L A) (Chiu,
Stoyan, Kendall and Mecke, Stochastic Geometry and its Applications, 3rd ed. 2013, ch. 3).
"""

import math

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.figures.fraction import area_fraction
from defectlog.measure.outlines.shapes import shapes_of


def discs(side: int, radius: int, mean: float, rng: np.random.Generator) -> tuple[np.ndarray, int]:
    """A window that goes on at the other side, with discs at random; and how many."""
    drawn = np.zeros((side, side), np.uint8)
    count = int(rng.poisson(mean))
    for x, y in rng.integers(0, side, (count, 2)):
        for right in (-side, 0, side):
            for down in (-side, 0, side):
                cv2.circle(drawn, (int(x) + right, int(y) + down), radius, 1, -1)
    return drawn.astype(bool), count


def test_the_share_of_overlapping_voids_is_that_of_what_they_cover_together():
    # 100 a window of 1 mm², radius 0.05 mm: L A = 0.785398, so 0.544062. One window scatters by
    # 0.040, the mean of 100 by 0.004.
    rng = np.random.default_rng(12)
    covered, added_up = [], []
    for _ in range(100):
        mask, count = discs(400, 20, 100, rng)
        covered.append(area_fraction(mask, np.ones_like(mask)).value)
        added_up.append(count * math.pi * 20**2 / mask.size)
        assert shapes_of(mask).area.sum() == np.count_nonzero(mask)

    assert np.mean(covered) == pytest.approx(1 - math.exp(-0.785398), abs=0.012)
    assert np.mean(added_up) == pytest.approx(0.785398, abs=0.024)


def test_a_picture_of_overlapping_voids_measures_as_the_model_has_it():
    # Radius 9 px, area 254.5 px², 150 on 800 x 800: L A = 0.05964, so 0.0579 is covered. One
    # picture scatters by √150 · 254.5 / 640 000 = 0.0049, the mean of eight by 0.0017.
    rng = np.random.default_rng(31)
    measured, drawn = [], []
    for _ in range(8):
        mask, _ = discs(800, 9, 150, rng)
        light = cv2.GaussianBlur(np.where(mask, 70.0, 130.0).astype(np.float32), (0, 0), 0.9)
        grey = np.clip(np.round(light + rng.normal(0, 2, light.shape)), 0, 255).astype(np.uint8)
        measured.append(measure_voids(grey, px_per_mm=12).void_fraction)
        drawn.append(mask.mean())

    assert np.abs(np.array(measured) - drawn).max() < 0.0025
    assert np.mean(measured) == pytest.approx(1 - math.exp(-0.05964), abs=0.005)
