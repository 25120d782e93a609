"""Voids fainter than a cloth's own tones, told by what lies close by."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.explain import explain
from defectlog.measure.lengths.scale import given_scale
from defectlog.measure.search.close_by import is_next_to_nothing
from defectlog.measure.search.finding import find_voids
from tests.pictures import Surface, render

PX_PER_MM, TOW_MM, VOID_MM = 12.0, 3.0, 0.5


def cloth(contrast: float, share: float, seed: int = 4) -> tuple[np.ndarray, np.ndarray]:
    """Tows of many tones, woven, with discs of so much more light, and how far these cover it."""
    rng = np.random.default_rng(seed)
    high, wide = 900, 1200
    tow = round(TOW_MM * PX_PER_MM)
    y, x = np.indices((high, wide)) // tow
    warp, weft = (rng.normal(0, 0.07, wide // tow + 1) for _ in range(2))
    tone = np.where((x + y) % 2, warp[x], weft[y])
    cover = np.zeros((4 * high, 4 * wide), np.float32)
    radius = round(2 * VOID_MM * PX_PER_MM)
    while cover.mean() < share:
        at = (int(rng.integers(4 * wide)), int(rng.integers(4 * high)))
        cv2.circle(cover, at, radius, 1.0, -1)
    cover = cv2.resize(cover, (wide, high), interpolation=cv2.INTER_AREA)
    light = (
        0.3 * np.exp(cv2.GaussianBlur(tone.astype(np.float32), (0, 0), 4)) * (1 + contrast * cover)
    )
    light = cv2.GaussianBlur(light, (0, 0), 0.8) + rng.normal(0, 0.002, light.shape)
    return np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8), cover


@pytest.mark.parametrize("contrast", [0.22, -0.2])
def test_many_faint_voids_are_found_among_tows_that_differ_as_much(contrast):
    grey, cover = cloth(contrast, 0.05)

    found = measure_voids(grey, px_per_mm=PX_PER_MM)

    assert found.look == ("bright" if contrast > 0 else "dark")
    assert found.void_fraction == pytest.approx(cover.mean(), rel=0.06)
    assert found.void_fraction_low <= cover.mean() <= found.void_fraction_high
    assert any("differ as much from each other" in said for said in found.warnings)


def test_a_sample_of_a_large_photo_tells_that_there_are_some():
    grey, cover = cloth(0.15, 0.01)

    found = measure_voids(np.tile(grey, (3, 3)), px_per_mm=PX_PER_MM)

    assert found.look == "bright"
    assert found.void_fraction == pytest.approx(cover.mean(), rel=0.06)


def test_the_steps_of_such_a_figure_are_those_that_made_it():
    grey, cover = cloth(0.22, 0.05)
    found = measure_voids(grey, px_per_mm=PX_PER_MM)

    made = explain(
        grey,
        region=None,
        scale=given_scale(PX_PER_MM),
        look=found.look,
        threshold=found.threshold,
        near_mm=found.settings["near_mm"],
    )

    assert made.near_mm == found.settings["near_mm"]
    assert made.beyond[cover > 0.9].mean() > 0.9
    assert made.beyond[cover == 0].mean() < 0.01


@pytest.mark.parametrize("seed", range(3))
def test_tows_that_differ_by_themselves_hold_no_voids(seed):
    grey, _ = cloth(0.0, 0.0, seed)

    assert measure_voids(grey, px_per_mm=PX_PER_MM).void_fraction == 0


def test_next_to_no_faint_specks_are_a_population():
    grey, _ = cloth(0.15, 0.0008)

    assert measure_voids(grey, px_per_mm=PX_PER_MM).void_fraction == 0


@pytest.mark.parametrize(("fraction", "told"), [(0.0002, True), (0.001, False), (0.004, False)])
def test_more_single_voids_than_of_a_population_may_be_the_strongest_of_many(fraction, told):
    picture = render(Surface(fraction=fraction, contrast=0.8, diameters_mm=(0.4, 0.8)))
    surface = prepare(picture.grey, np.ones(picture.grey.shape, bool), picture.px_per_mm)
    judged = replace(tails_of(surface, "dark")["dark"], threshold=0.5)
    found = find_voids(surface, "dark", judged)

    own, single = (replace(judged, kink=times * judged.limit) for times in (1.0, 0.9))

    assert is_next_to_nothing(found, own, surface) is told
    assert is_next_to_nothing(found, single, surface) is (fraction < 0.002)
