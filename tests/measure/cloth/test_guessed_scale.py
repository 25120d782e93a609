"""How near a picture was taken, guessed from cloth whose tows are known."""

import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth.guessed_scale import guessed_px_per_mm
from tests.benchmarks.voids_accuracy import drawn
from tests.pictures import Surface, render


def guessed(surface: Surface, inside: np.ndarray | None = None) -> float:
    grey = render(surface).grey
    return guessed_px_per_mm(grey, np.ones(grey.shape, bool) if inside is None else inside)


# Tows of the widths that cloth for boats and bodywork has (from practice), near and nearer: a
# picture of 1200 pixels is usually taken for one of 8 px/mm.
@pytest.mark.parametrize("tow_mm", [1.5, 2.0, 2.5])
@pytest.mark.parametrize("px_per_mm", [20, 40])
def test_the_tows_tell_how_near_a_picture_is(tow_mm, px_per_mm):
    across_mm = 1200 / px_per_mm
    surface = Surface(
        size_mm=(across_mm, 0.75 * across_mm), px_per_mm=px_per_mm, tow_mm=tow_mm, seed=5
    )

    off, usually = guessed(surface) / px_per_mm, 8 / px_per_mm

    assert 1.15 * usually < off < 1.5


def test_without_a_weave_or_with_a_fine_one_a_picture_is_as_near_as_is_usual():
    coat = Surface(size_mm=(90, 70), px_per_mm=12, weave=0.0)
    far = Surface(size_mm=(200, 150), px_per_mm=4, weave=0.15)

    assert guessed(coat) == pytest.approx(8)
    assert guessed(far) == pytest.approx(8, abs=1)


def test_only_the_region_tells():
    surface = Surface(size_mm=(60, 45), px_per_mm=20, seed=5)
    picture = render(surface)
    grey = np.random.default_rng(1).integers(90, 110, picture.grey.shape, dtype=np.uint8)
    inside = np.zeros(grey.shape, bool)
    inside[100:700, 200:800] = True
    grey[inside] = picture.grey[inside]

    assert guessed_px_per_mm(grey, inside) == pytest.approx(guessed(surface), rel=0.1)


@pytest.mark.parametrize("shape", [(1, 2600), (2600, 1), (40, 70)])
def test_of_a_sliver_nothing_is_told(shape):
    grey = render(Surface(size_mm=(60, 45), px_per_mm=50)).grey
    inside = np.zeros(grey.shape, bool)
    inside[1000 : 1000 + shape[0], 100 : 100 + shape[1]] = True

    assert guessed_px_per_mm(grey[:, :2900], inside[:, :2900]) == pytest.approx(2900 / 330)


@pytest.mark.parametrize("salt", [2, 17])
def test_sound_wrinkled_glass_reads_as_sound_without_a_scale(salt):
    assert measure_voids(drawn("third", salt, "glass, sound, wrinkles").grey).is_sound
