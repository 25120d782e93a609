"""A photo without voids that might not have shown one: blurred, or nothing to tell it by."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.figures.focus import OF_NOISE, SCALES, focus_of
from tests.pictures import Surface, render

GLASS = Surface(size_mm=(50, 40), fraction=0.02, seed=5)
ALL = np.ones((600, 700), bool)
rng = np.random.default_rng(8)


def out_of_focus(grey: np.ndarray, blur_px: float) -> np.ndarray:
    """The same through a lens out of focus; the noise of a camera comes after it."""
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), blur_px)
    noisy = soft + rng.normal(0, 1.2, soft.shape)
    return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def noise(level: float) -> np.ndarray:
    return np.clip(np.round(110 + rng.normal(0, level, ALL.shape)), 0, 255).astype(np.uint8)


def edges() -> np.ndarray:
    """Squares of two shades anywhere, as cut with a knife."""
    drawn = np.full(ALL.shape, 110, np.uint8)
    for x, y, side in zip(
        rng.integers(0, 700, 400), rng.integers(0, 600, 400), rng.integers(5, 50, 400), strict=True
    ):
        cv2.rectangle(drawn, (x, y), (x + side, y + side), int(rng.choice([90, 130])), -1)
    return drawn


def test_the_gradients_of_noise_fall_as_stated():
    white = rng.normal(0, 1, (1500, 1500)).astype(np.float32)
    found = []
    for scale in SCALES:
        smooth = cv2.GaussianBlur(white, (0, 0), scale)
        x, y = (cv2.Sobel(smooth, cv2.CV_32F, *way, scale=1 / 8) for way in ((1, 0), (0, 1)))
        found.append(float(np.mean(x**2 + y**2)))

    assert np.array(found) / found[0] == pytest.approx(OF_NOISE, rel=0.03)


@pytest.mark.parametrize("blur_px", [5, 8])
def test_sharp_edges_are_sharp_and_the_same_out_of_focus_are_not(blur_px):
    drawn = edges()

    assert focus_of(out_of_focus(drawn, 0.8), ALL) is None
    assert focus_of(out_of_focus(drawn, blur_px), ALL) == "blurred"


def test_where_there_is_nothing_but_noise_the_focus_cannot_be_told():
    assert focus_of(noise(1.5), ALL) == "untold"


def test_where_nothing_is_surface_all_over_nothing_is_said():
    assert focus_of(noise(1.5), np.zeros_like(ALL)) is None
    assert focus_of(np.full(ALL.shape, 90, np.uint8), ALL) is None


@pytest.mark.parametrize("weave", [GLASS.weave, 0.5])
def test_voids_lost_out_of_focus_are_not_passed_over_in_silence(weave):
    sharp = render(replace(GLASS, weave=weave)).grey

    lost = measure_voids(out_of_focus(sharp, 9), px_per_mm=12)

    assert lost.count == 0
    assert any("blurred" in said for said in lost.warnings)


@pytest.mark.parametrize("weave", [GLASS.weave, 0.5])
def test_a_sharp_sound_surface_is_not_called_blurred(weave):
    sound = render(replace(GLASS, weave=weave, fraction=0.0))

    found = measure_voids(sound.grey, px_per_mm=12)

    assert found.count == 0
    assert not any("blurred" in said for said in found.warnings)
