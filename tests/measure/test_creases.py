"""Creases drawn with a lit flank and one in shade, beside lines that have but one side."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids

ROWS, COLUMNS, PX_PER_MM = 600, 900, 10.0
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
# Across a line that bends a little, in mm, and how far it has faded towards its ends.
ACROSS = (Y - 300 - 25 * np.sin(X / 120)) / PX_PER_MM
ENDS = 1 / (1 + np.exp((np.abs(X - 450) / PX_PER_MM - 20) / 2))


def photo(gain: np.ndarray) -> np.ndarray:
    light = 0.3 * gain * (1 + 0.03 * np.sin(X / 3) * np.sin(Y / 3))
    light += np.random.default_rng(4).normal(0, 0.003, light.shape)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.8)
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def creased(glint: float = 0.0) -> np.ndarray:
    """Flanks a millimetre from the middle, a quarter off the light; a glint along the crest."""
    lit = 0.4 * ACROSS * np.exp(-(ACROSS**2) / 2)
    return 1 + ENDS * (lit + glint * np.exp(-(((ACROSS - 0.5) / 0.2) ** 2)))


@pytest.mark.parametrize("glint", [0.0, 0.25])
@pytest.mark.parametrize("look", ["auto", "dark", "bright"])
def test_a_crease_on_a_sound_surface_is_none_of_its_voids(glint, look):
    found = measure_voids(photo(creased(glint)), px_per_mm=PX_PER_MM, look=look)

    assert found.count == 0
    assert 0 < found.void_fraction_high < 0.003


@pytest.mark.parametrize("half_mm", [6, 7, 8])
@pytest.mark.parametrize("wide", [0.6, 0.8, 1.0])
def test_a_crease_some_times_longer_than_wide_is_no_void_among_bright_ones(half_mm, wide):
    at = ACROSS / wide
    ends = 1 / (1 + np.exp((np.abs(X - 450) / PX_PER_MM - half_mm) / 0.6))
    places = [(x, y) for x in range(60, COLUMNS, 112) for y in (60, 140, 460, 540)]
    true = np.logical_or.reduce([(X - x) ** 2 + (Y - y) ** 2 < 5**2 for x, y in places])
    gain = (1 + 0.6 * ends * at * np.exp(-(at**2) / 2)) * np.where(true, 1.5, 1.0)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.count == len(places)
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.05)


def test_two_creases_that_cross_are_no_voids_either():
    other = (X - 450 - (Y - 300)) / 2**0.5 / PX_PER_MM
    ends = 1 / (1 + np.exp((np.abs(Y - 300) / PX_PER_MM - 15) / 2))
    gain = creased() + 0.4 * ends * other * np.exp(-(other**2) / 2)

    assert measure_voids(photo(gain), px_per_mm=PX_PER_MM).count == 0


@pytest.mark.parametrize("look", ["auto", "bright"])
def test_the_flanks_of_a_wide_crease_are_no_voids(look):
    wide = ACROSS / 2.8
    gain = 1 + ENDS * 0.4 * wide * np.exp(-(wide**2) / 2)

    assert measure_voids(photo(gain), px_per_mm=PX_PER_MM, look=look).count == 0


def test_a_pale_line_of_one_side_is_no_crease():
    band = np.where(np.abs(ACROSS) < 0.75, 1 + 0.3 * (ENDS > 0.5), 1.0)
    true = float((band > 1).mean())

    found = measure_voids(photo(band), px_per_mm=PX_PER_MM)

    assert found.void_fraction == pytest.approx(true, rel=0.1)


def test_dark_voids_beside_a_crease_and_on_it_count():
    gain, true = creased(), np.zeros((ROWS, COLUMNS), bool)
    on_it = np.argmin(np.abs(ACROSS[:, 450] + 1))
    for x, y in ((450, on_it), *((100 + 140 * k, 80) for k in range(6))):
        true |= (X - x) ** 2 + (Y - y) ** 2 < 6**2
    gain = np.where(true, 0.4 * gain, gain)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.look == "dark"
    assert found.count == 7
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)


@pytest.mark.parametrize(
    ("gap", "steep", "wide"),
    [(0.08, 0.7, 0.6), (0.08, 0.7, 0.8), (0.16, 0.7, 0.8), (0.16, 0.6, 0.6), (0.2, 0.7, 0.6)],
)
def test_what_is_dark_of_weave_on_a_sharp_crease_does_not_bring_back_its_flank(gap, steep, wide):
    """The flank of 40 by 1.5 mm would be 1 % of the surface; voids are found on folds anew."""
    at = ACROSS / wide
    weave = 1 - gap * np.maximum(*(np.exp(-(((np.mod(z, 8) - 4) / 1.2) ** 2)) for z in (X, Y)))
    places = [(x, y) for x in range(60, COLUMNS, 112) for y in (60, 140, 460, 540)]
    true = np.logical_or.reduce([(X - x) ** 2 + (Y - y) ** 2 < 5**2 for x, y in places])
    gain = (1 + ENDS * steep * at * np.exp(-(at**2) / 2)) * weave * np.where(true, 0.5, 1.0)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.count == len(places)
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.05)
