"""Carbon satin, of whose darker tows only small floats are seen, one in five places."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids

PX_PER_MM, PITCH = 14.0, 36
SHAPE = (900, 1100)
DARK_TOW = 0.62  # of the light of the tows that make up most of what is seen
VOID = 0.3  # of that of the tow about it


def satin(seed: int, tones: float, dark_tow: float = DARK_TOW) -> np.ndarray:
    """Light of a five-end satin with a step of two, as ISO 3572 has it; floats of the weft dark.

    Tows wander by a twentieth of a pitch; by their tones they differ from each other.
    """
    rng = np.random.default_rng(seed)
    y, x = np.indices(SHAPE, dtype=np.float64)
    u = x / PITCH + 0.05 * np.sin(2 * np.pi * y / 410 + 1)
    v = y / PITCH + 0.05 * np.sin(2 * np.pi * x / 370)
    warp, weft = np.floor(u).astype(int), np.floor(v).astype(int)
    is_weft = (warp + 2 * weft) % 5 == 0
    gain = 1 + tones * rng.standard_normal((2, 64))
    light = np.where(is_weft, dark_tow * gain[0][weft + 1], gain[1][warp + 1])
    across = np.where(is_weft, v, u) % 1
    return light * (1 - 0.12 * np.abs(2 * across - 1) ** 6)


def picture(light: np.ndarray, seed: int) -> np.ndarray:
    """As a camera takes it: grey values of a dark surface, a little blurred, with noise."""
    rng = np.random.default_rng(seed)
    seen = 0.09 * cv2.GaussianBlur(light, (0, 0), 0.8)
    seen += rng.normal(0, 0.002, SHAPE)
    return np.rint(255 * np.clip(seen, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def with_voids(light: np.ndarray, seed: int) -> tuple[np.ndarray, float]:
    """Discs of 4 to 16 pixels across, 3 % of the surface or so, and their share of it."""
    rng = np.random.default_rng(seed)
    fine = np.zeros((4 * SHAPE[0], 4 * SHAPE[1]), np.uint8)
    for _ in range(480):
        at = (int(rng.uniform(0, fine.shape[1])), int(rng.uniform(0, fine.shape[0])))
        cv2.circle(fine, at, int(4 * rng.uniform(2, 8)), 1, -1)
    cover = cv2.resize(fine.astype(np.float32), SHAPE[::-1], interpolation=cv2.INTER_AREA)
    return light * (1 - cover * (1 - VOID)), float(cover.mean())


@pytest.mark.parametrize(
    ("tones", "dark_tow"), [(0.05, DARK_TOW), (0.09, DARK_TOW), (0.13, DARK_TOW), (0.05, 0.85)]
)
@pytest.mark.parametrize("seed", [1, 2])
def test_dark_floats_of_a_sound_satin_are_no_voids(seed, tones, dark_tow):
    light = satin(seed, tones, dark_tow)

    found = measure_voids(picture(light, seed), px_per_mm=PX_PER_MM)

    assert found.void_fraction < 0.0002
    assert found.void_fraction_high < 0.005


@pytest.mark.parametrize("tones", [0.05, 0.13])
@pytest.mark.parametrize("seed", [1, 2])
def test_voids_are_told_from_the_dark_floats_of_a_satin(seed, tones):
    light, share = with_voids(satin(seed, tones), seed)

    found = measure_voids(picture(light, seed), px_per_mm=PX_PER_MM)

    assert found.void_fraction == pytest.approx(share, abs=0.001)
