"""Faint voids on noisy pictures: specks of noise are none, and the voids are found."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.figures.result import VoidMeasurement
from tests.benchmarks.voids_accuracy import diameters
from tests.pictures import Picture, Surface, render

FAINT = Surface(size_mm=(70, 55), weave=0.015, fraction=0.03, contrast=0.19, seed=71)


def measured(surface: Surface) -> tuple[VoidMeasurement, Picture]:
    picture = render(surface)
    return measure_voids(picture.grey, px_per_mm=picture.px_per_mm), picture


def share_that_is_void(found: VoidMeasurement, picture: Picture) -> float:
    """Of the voids told, those whose middle lies on a true one or beside it."""
    true = cv2.dilate((picture.cover > 0.1).astype(np.uint8), np.ones((5, 5))) > 0
    return float(np.mean([true[round(void.y), round(void.x)] for void in found.voids]))


@pytest.mark.parametrize("noise", [0.014, 0.018], ids=["a third of the voids", "two fifths"])
def test_nearly_all_that_counts_on_a_noisy_picture_is_void(noise):
    # Light is 0.25, and a void takes 0.19 of it: 0.0475.
    found, picture = measured(replace(FAINT, noise=noise))

    assert share_that_is_void(found, picture) > 0.9
    assert found.count > 0.95 * len(picture.voids)
    assert found.void_fraction_low < picture.fraction < found.void_fraction_high


@pytest.mark.parametrize("seed", [71, 72])
def test_sizes_of_faint_voids_are_told_through_noise_two_fifths_as_strong(seed):
    found, picture = measured(replace(FAINT, noise=0.018, seed=seed))
    small, large = diameters(picture, found)

    assert np.mean(small) == pytest.approx(1, abs=0.035)
    assert np.mean(large) == pytest.approx(1, abs=0.012)
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.001)


@pytest.mark.parametrize("noise", [0.014, 0.018])
def test_noise_alone_is_no_void(noise):
    found, _ = measured(replace(FAINT, noise=noise, fraction=0.0))

    assert found.count == 0
