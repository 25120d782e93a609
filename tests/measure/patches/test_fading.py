"""Swells of light, as a lamp mirrored in resin shows: they have no edge, and are no dry cloth."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth.cloth_maps import Cells, ClothMap
from defectlog.measure.patches.fading import fades_out, without_weave
from defectlog.measure.patches.patch_outlines import candidates
from tests.benchmarks.voids_accuracy import drawn
from tests.pictures import CASES, Picture, render

CELL_MM, TIMES = 0.5, 2
FINE = (240, 320)
Y, X = (axis * CELL_MM / TIMES for axis in np.indices(FINE, dtype=np.float32))


def under_a_lamp(picture: Picture, strength: float, across_mm: tuple[float, float]) -> np.ndarray:
    """A picture with light added in its middle that fades out as a Gaussian of two deviations."""
    linear = (picture.grey / 255) ** 2.2
    rows, columns = (
        (at - size / 2) / picture.px_per_mm
        for at, size in zip(np.indices(linear.shape), linear.shape, strict=True)
    )
    turn = 0.6
    narrow, wide = across_mm
    along = (columns * np.cos(turn) + rows * np.sin(turn)) / wide
    across = (rows * np.cos(turn) - columns * np.sin(turn)) / narrow
    linear += strength * linear.mean() * np.exp(-(along**2 + across**2) / 2)
    return np.round(255 * linear.clip(0, 1) ** (1 / 2.2)).astype(np.uint8)


# It is outlined pixel by pixel; as a patch; as one once what is mirrored is taken out; by all; and
# along dark tows, which on carbon are darker than it is bright: there it may be a patch, as pale by
# what its swing has lost.
@pytest.mark.parametrize(
    ("case", "strength", "across_mm"),
    [
        ("sound", 0.3, (1.3, 2.5)),
        ("sound, gelcoat", 0.3, (2.5, 6.0)),
        ("sound, 40 px/mm", 0.8, (1.8, 3.6)),
        ("sound", 0.8, (1.3, 2.5)),
        ("sound", 0.5, (2.5, 6.0)),
        ("sound, 40 px/mm", 0.5, (1.8, 3.6)),
        ("sound carbon", 0.8, (2.5, 6.0)),
    ],
)
def test_sound_cloth_is_sound_under_a_mild_lamp(case, strength, across_mm):
    picture = render(CASES[case])

    found = measure_voids(under_a_lamp(picture, strength, across_mm), px_per_mm=picture.px_per_mm)

    assert found.void_fraction == 0


@pytest.mark.parametrize(("salt", "across_mm"), [(165, (2, 4)), (165, (3, 4.5)), (167, (2, 4))])
def test_sound_carbon_of_many_tones_is_sound_under_a_lamp(salt, across_mm):
    picture = drawn("second", salt, "carbon, sound")

    found = measure_voids(under_a_lamp(picture, 0.8, across_mm), px_per_mm=picture.px_per_mm)

    assert found.void_fraction == 0


@pytest.mark.parametrize("strength", [0.2, 0.4])
def test_pale_dry_patches_beside_and_under_a_mild_lamp_are_counted(strength):
    case = CASES["pale dry patches"]
    picture = render(replace(case, seed=case.seed + 1000 * 130))

    found = measure_voids(under_a_lamp(picture, strength, (2.0, 4.0)), px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, rel=0.05)


def fades(light: np.ndarray) -> bool:
    """Whether what is drawn in fine cells, in the grain of cloth, is told to fade out."""
    fine = light.astype(np.float32) + np.random.default_rng(4).normal(0, 0.05, FINE)
    own = cv2.resize(fine, (FINE[1] // TIMES, FINE[0] // TIMES), interpolation=cv2.INTER_AREA)
    own = own.astype(np.float32)
    near, wide = (cv2.GaussianBlur(own, (0, 0), mm / CELL_MM) for mm in (1.5, 2.0))
    around = cv2.resize(near, FINE[::-1], interpolation=cv2.INTER_LINEAR)
    held = np.ones(own.shape, bool)
    chart = ClothMap(wide, near, own, spread=0.02, tows_step=0.0)
    cells = Cells(held, held, CELL_MM, (fine - around).astype(np.float32), TIMES)
    (found, *_) = candidates(chart, 1, cells, least=0.1)
    return fades_out(found, chart, without_weave(cells))


TURN = np.arctan2(Y - 30, X - 40)
RAGGED = np.hypot(Y - 30, X - 40) < 8 + 0.8 * np.sin(7 * TURN) + 0.5 * np.sin(23 * TURN)
# Squares of light tows and dark ones, 2 mm wide.
WEAVE = 0.15 * np.sign(np.sin(np.pi * X / 2) * np.sin(np.pi * Y / 2))


def swell(deviation_mm: float) -> np.ndarray:
    return np.exp(-((Y - 30) ** 2 + (X - 40) ** 2) / (2 * deviation_mm**2))


def test_a_patch_has_an_edge_however_ragged_it_is():
    assert not fades(0.3 * RAGGED)


def test_a_patch_has_one_on_a_weave_that_swings_as_far():
    assert not fades(0.3 * RAGGED + WEAVE)


@pytest.mark.parametrize("weave", [0, 1])
@pytest.mark.parametrize("deviation_mm", [3, 4, 6])
def test_a_swell_has_none(deviation_mm, weave):
    assert fades(0.3 * swell(deviation_mm) + weave * WEAVE)


def test_nor_has_what_fades_out_beyond_a_plateau():
    away = np.hypot(Y - 30, X - 40)

    assert fades(0.3 / (1 + np.exp((away - 8) / 1.5)))
