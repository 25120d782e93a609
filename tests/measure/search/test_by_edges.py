"""Faint voids of many strengths among tows of as many tones: not counted, but not ruled out."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids

PX_PER_MM, TOW_MM = 15.0, 1.9


def cloth(share: float, seed: int) -> tuple[np.ndarray, float]:
    """Tows of many tones in cloudy resin, with voids of a quarter less light, and their area.

    Voids are pinholes, and slits along the tows; resin hides up to half of each.
    """
    rng = np.random.default_rng(seed)
    high, wide = 900, 1200
    tow = round(TOW_MM * PX_PER_MM)
    y, x = np.indices((high, wide)) // tow
    tone = rng.normal(0, 0.07, (high // tow + 1, wide // tow + 1))[y, x].astype(np.float32)
    tone = cv2.GaussianBlur(tone, (0, 0), 2.5) + cv2.resize(
        rng.normal(0, 0.07, (high // 12, wide // 12)).astype(np.float32), (wide, high)
    )
    cover = np.zeros((2 * high, 2 * wide), np.float32)
    while np.mean(cover > 0) < share:
        at = (int(rng.integers(2 * wide)), int(rng.integers(2 * high)))
        size = rng.lognormal(np.log(0.6 * PX_PER_MM), 0.35)
        axes = [(size, size), (2.5 * size, 0.4 * size), (0.4 * size, 2.5 * size)][rng.integers(3)]
        hidden = 1 - rng.uniform(0, 0.5)
        cv2.ellipse(cover, at, tuple(round(axis) for axis in axes), 0, 0, 360, hidden, -1)
    true = float(np.mean(cover > 0))
    cover = cv2.resize(cover, (wide, high), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(0.3 * np.exp(tone) * (1 - 0.24 * cover), (0, 0), 0.7)
    light += rng.normal(0, 0.004, light.shape)
    grey = np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    return grey, true


@pytest.mark.parametrize("share", [0.03, 0.08])
def test_faint_voids_that_run_into_the_tones_of_tows_are_in_the_interval(share):
    grey, true = cloth(share, 2)

    found = measure_voids(grey, px_per_mm=PX_PER_MM)

    assert found.void_fraction_low <= true <= found.void_fraction_high
    assert any("as sharp as voids are" in said for said in found.warnings)


def test_a_part_of_a_large_photo_speaks_for_all_of_it():
    grey, true = cloth(0.08, 2)
    sound, _ = cloth(0.0, 2)
    large = np.block([[grey, sound, sound], [sound, sound, grey], [grey, grey, grey]])

    found = measure_voids(large, px_per_mm=PX_PER_MM)

    assert found.void_fraction_low <= true * 5 / 9 <= found.void_fraction_high
    assert any("as sharp as voids are" in said for said in found.warnings)


@pytest.mark.parametrize("seed", range(2, 5))
def test_tows_of_many_tones_hold_no_voids_by_themselves(seed):
    grey, _ = cloth(0.0, seed)

    found = measure_voids(grey, px_per_mm=PX_PER_MM)

    assert found.void_fraction == 0
    assert found.void_fraction_high < 0.01


def test_soft_swells_are_no_voids_however_many():
    grey, _ = cloth(0.0, 2)
    rng = np.random.default_rng(1)
    swells = cv2.resize(rng.random((60, 80), np.float32), grey.shape[::-1]) > 0.7
    shade = 1 - 0.24 * cv2.GaussianBlur(swells.astype(np.float32), (0, 0), 5)
    shaded = np.rint(grey * shade ** (1 / 2.2)).astype(np.uint8)

    found = measure_voids(shaded, px_per_mm=PX_PER_MM)

    assert found.void_fraction == 0
    assert found.void_fraction_high < 0.01
