"""Voids as faint as the tones of their cloth: where they are looked for, and what that takes."""

from dataclasses import replace

import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth import surface as surfaces
from defectlog.measure.cloth.unweave import Unwoven
from tests.benchmarks.voids_accuracy import drawn
from tests.pictures import Surface, render

# Carbon of slightly two tones, and glass whose tows differ by less.
CARBON = Surface(size_mm=(60, 45), light=0.07, noise=0.003, two_tone=0.14, weave=0.1)
GLASS = Surface(size_mm=(60, 45), light=0.35, two_tone=0.06, weave=0.2)


@pytest.fixture
def looked_at(monkeypatch) -> list[str]:
    """The looks that cloth was told for from all its squares, once few had spoken for voids."""
    looks, closely = [], Unwoven.closely
    monkeypatch.setattr(
        Unwoven, "closely", lambda self, *own: looks.extend(own) or closely(self, *own)
    )
    # As if all pictures were large: these take a second, large ones ten.
    monkeypatch.setattr(surfaces, "LARGE_PX", 1)
    return looks


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("fraction", [0.0, 0.02])
def test_few_squares_say_that_there_is_no_more_than_was_found(looked_at, fraction, seed):
    picture = render(replace(CARBON, fraction=fraction, contrast=0.8, seed=seed))

    measured = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert looked_at == []
    assert measured.void_fraction == pytest.approx(picture.fraction, abs=0.0005)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize(("contrast", "look"), [(0.3, "dark"), (-0.4, "bright")])
def test_where_few_squares_speak_for_faint_voids_all_are_told(looked_at, contrast, look, seed):
    picture = render(replace(CARBON, fraction=0.03, contrast=contrast, seed=seed))

    measured = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert looked_at == [look]
    assert measured.settings["fainter"]
    assert measured.look == look
    assert measured.void_fraction > picture.fraction / 3
    assert measured.void_fraction_high > picture.fraction


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("fraction", [0.01, 0.04])
def test_voids_a_fifth_darker_than_glass_of_slight_tones_are_told(fraction, seed):
    picture = render(replace(GLASS, fraction=fraction, contrast=0.25, seed=seed))

    measured = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert measured.void_fraction == pytest.approx(picture.fraction, rel=0.25)
    assert measured.void_fraction_low < picture.fraction < measured.void_fraction_high


@pytest.mark.parametrize("seed", [1, 2])
def test_sound_glass_of_slight_tones_is_sound(seed):
    picture = render(replace(GLASS, seed=seed))

    measured = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert measured.count == 0


def test_grooves_of_a_core_which_no_weave_repeats_are_none_either():
    picture = drawn("third", 1, "glass, sound, grooves")

    measured = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert measured.void_fraction <= 0.0001
