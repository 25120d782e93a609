"""The steps of a measurement, each against what the picture was drawn from."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure.cloth.surface import NoContrastError
from defectlog.measure.explain import LONG_SIDE_PX, explain
from defectlog.measure.lengths.scale import given_scale
from defectlog.measure.voids import measure_voids
from tests.pictures import Surface, render


def steps(surface: Surface, region=None):
    picture = render(surface)
    scale = given_scale(surface.px_per_mm)
    measured = measure_voids(picture.grey, scale=scale, region=region)
    return (
        explain(
            picture.grey,
            region=region,
            scale=scale,
            look=measured.look,
            threshold=measured.threshold,
        ),
        measured,
    )


def test_pictures_are_no_longer_than_a_screen_needs():
    made, _ = steps(Surface(size_mm=(120, 90), fraction=0.02))

    assert made.grey.shape == (900, LONG_SIDE_PX)
    for name in ("light", "even", "standing_out", "beyond", "wanted", "inspected"):
        assert getattr(made, name).shape == made.grey.shape


def test_what_was_counted_stands_out_and_sound_surface_does_not():
    made, measured = steps(Surface(size_mm=(60, 45), fraction=0.03, seed=4))

    counted = measured.voids_mask
    assert counted.shape == made.beyond.shape  # 720 px wide: not shrunk
    middles = [(round(void.y), round(void.x)) for void in measured.voids if void.d_px > 6]
    assert len(middles) > 20
    assert all(made.beyond[place] for place in middles)
    away = cv2.dilate(counted.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
    assert made.beyond[away].mean() < 0.001
    assert made.candidates >= measured.count


def test_light_that_falls_from_one_side_is_taken_out():
    # The picture is drawn with light that changes by a rake; even surface has one light.
    made, _ = steps(Surface(size_mm=(60, 45), fraction=0.02, rake=0.6, weave=0.02, seed=6))

    assert made.light_low < 0.85 and made.light_high > 1.15
    left, right = (np.median(part) for part in np.array_split(made.even.astype(float), 2, axis=1))
    assert left == pytest.approx(right, rel=0.02)


def test_scatter_is_the_noise_that_was_put_in():
    rng = np.random.default_rng(3)
    # Stored grey 128 and 2 % noise on the light; values are light to the power of 1 / 2.2, and
    # finding evens noise out with a Gaussian of 0.8 px: 1 / (2 sqrt(pi) 0.8) = 0.353 of it is left
    # for white noise.
    light = 0.22 * (1 + 0.02 * rng.standard_normal((600, 800)))
    grey = np.round(255 * light ** (1 / 2.2)).astype(np.uint8)

    made = explain(grey, region=None, scale=given_scale(10), look=None, threshold=None)

    assert made.scatter == pytest.approx(0.02 * 0.353, rel=0.15)
    assert made.candidates == 0 and not made.beyond.any()
    assert sum(made.counts) == pytest.approx(grey.size, rel=0.01)


def test_only_the_region_is_wanted():
    made, _ = steps(Surface(size_mm=(60, 45), fraction=0.03, seed=4), region=(100, 50, 400, 300))

    inside = np.zeros_like(made.wanted)
    inside[50:350, 100:500] = True
    assert (made.wanted == inside).mean() > 0.995
    assert not (made.inspected & ~made.wanted).any()


def test_a_picture_of_one_shade_is_refused():
    with pytest.raises(NoContrastError):
        explain(
            np.full((200, 200), 90, np.uint8),
            region=None,
            scale=given_scale(10),
            look=None,
            threshold=None,
        )


def test_what_stands_out_of_two_tone_cloth_is_shown_without_its_weave():
    cloth = Surface(size_mm=(60, 45), light=0.07, noise=0.003, two_tone=0.3, weave=0.2)
    # The darkest tows lack 0.45 of the light, these voids 0.5.
    made, measured = steps(replace(cloth, fraction=0.03, contrast=0.5))

    assert made.is_bare
    assert made.beyond.mean() < 2 * measured.void_fraction


def test_the_weave_of_even_cloth_stays_in():
    made, _ = steps(Surface(size_mm=(60, 45), fraction=0.02))

    assert not made.is_bare
