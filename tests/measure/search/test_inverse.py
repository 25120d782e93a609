"""Bright voids among light tows and dark ones, found in the inverse of light."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import ONE, halved, inverse_of
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.outlines.shapes import shapes_of
from defectlog.measure.outlines.zone import zone_of
from defectlog.measure.search.inverse import as_bright
from tests.benchmarks.voids_accuracy import pictures
from tests.pictures import Surface, render

CARBON = Surface(size_mm=(60, 45), light=0.07, noise=0.003, weave=0.2, fraction=0.03)


def test_the_inverse_of_the_inverse_is_light_again():
    # A sixteenth of the even light, to fifteen times as much.
    light = np.geomspace(ONE / 16, 15 * ONE, 200).astype(np.uint16)

    assert inverse_of(light)[light == ONE] == pytest.approx(ONE, abs=1)
    np.testing.assert_allclose(inverse_of(inverse_of(light)), light, rtol=0.01)


@pytest.mark.parametrize("count", [0, 1, 2, 1000])
def test_a_list_of_pixels_is_told_inverse_as_a_picture_of_them_is(count):
    light = np.linspace(1, 8 * ONE, 1000).astype(np.uint16)

    inverse = inverse_of(light[:count])

    assert inverse.shape == (count,)
    np.testing.assert_array_equal(inverse, inverse_of(light[None])[0, :count])


# Light tows lie so far above the even light; voids no more, or little more.
@pytest.mark.parametrize(
    ("two_tone", "contrast"), [(0.25, -0.7), (0.3, -0.7), (0.35, -0.8), (0.5, -0.9)]
)
def test_bright_voids_no_brighter_than_light_tows_are_counted_where_the_weave_tells(
    two_tone, contrast
):
    picture = render(replace(CARBON, two_tone=two_tone, contrast=contrast))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.look == "bright"
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


def diameters_to_true(two_tone: float, added: float) -> tuple[np.ndarray, np.ndarray]:
    """Diameters told of discs, as shares of those drawn, and those drawn.

    The discs add so much to the light of each tow: cloth shows through them.
    """
    sound = render(replace(CARBON, noise=0.0012, two_tone=two_tone, fraction=0.0))
    draw, fine = np.random.default_rng(5), 8
    rows, columns = sound.grey.shape
    cover, discs = np.zeros(sound.grey.shape), []
    for y in range(30, rows - 30, 46):
        for x in range(30, columns - 30, 46):
            down, across = (float(draw.uniform(-14, 14)) for _ in range(2))
            radius = float(draw.uniform(2, 8))
            top, left = int(y + down) - 12, int(x + across) - 12
            i, j = (np.indices((25 * fine, 25 * fine)) + 0.5) / fine - 0.5
            inside = np.hypot(i + top - y - down, j + left - x - across) < radius
            part = inside.reshape(25, fine, 25, fine).mean((1, 3))
            cover[top : top + 25, left : left + 25] = part
            discs.append((y + down, x + across, 2 * radius))
    light = (sound.grey / 255) ** 2.2 * (1 + added * cv2.GaussianBlur(cover, (0, 0), 0.8))
    grey = np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)

    found = measure_voids(grey, px_per_mm=sound.px_per_mm)

    told = np.array([(void.y, void.x, void.d_px) for void in found.voids])
    pairs = []
    for row, column, drawn in discs:
        off = np.hypot(told[:, 0] - row, told[:, 1] - column)
        if off.min() < 2:
            pairs.append((told[off.argmin(), 2] / drawn, drawn))
    assert len(pairs) > 0.98 * len(discs)
    ratio, drawn = np.array(pairs).T
    return ratio, drawn


@pytest.mark.parametrize("added", [2.2, 3.0])
def test_outlines_told_in_the_inverse_are_those_of_light_however_bright_voids_are(added):
    # Edges a pixel or two wide move by half of one where light is four times as much.
    ratio, drawn = diameters_to_true(0.35, added)

    assert np.mean(ratio[drawn > 9]) == pytest.approx(1, abs=0.006)
    assert np.mean(ratio[drawn < 9]) == pytest.approx(1, abs=0.02)


@pytest.mark.parametrize(("two_tone", "added"), [(0.15, 0.8), (0.18, 1.2)])
def test_bright_voids_that_cloth_shows_through_reach_over_its_dark_tows(two_tone, added):
    # Halfway to the mean light of a void, what lies on dark tows is lost.
    ratio, drawn = diameters_to_true(two_tone, added)

    assert np.mean(ratio[drawn > 9]) == pytest.approx(1, abs=0.006)


@pytest.mark.parametrize("two_tone", [0.25, 0.4, 0.5])
def test_sound_two_tone_cloth_has_no_bright_voids(two_tone):
    picture = render(replace(CARBON, two_tone=two_tone, gap=0.3, fraction=0.0))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm, look="bright")

    assert found.count == 0


@pytest.mark.parametrize("salt", [10])
def test_pale_patches_on_two_tone_cloth_are_counted_with_their_dark_tows(salt):
    picture = dict(pictures("third", salt))["carbon, dry bright"]()

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


def test_light_mirrored_by_dark_tows_alone_is_no_void():
    # A glint of three times the light of the surface lies on light tows and dark ones alike: the
    # dark ones are bright for what they are, the light ones are not.
    sound = replace(CARBON, two_tone=0.25, fraction=0.0, glare=3.0)
    voids = replace(sound, fraction=0.03, contrast=-1.2)

    for picture in map(render, (sound, voids)):
        found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm, look="bright")

        assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
        assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


def test_a_patch_on_cloth_that_gleams_in_lines_lies_on_as_much_light_cloth_as_there_is():
    # A fifth of the cloth gleams. What covers all of it alike is a patch, what is pale on the
    # rest alone is mirrored.
    picture = render(CARBON)
    surface = prepare(picture.grey, np.ones(picture.grey.shape, bool), picture.px_per_mm)
    y, x = np.indices(picture.grey.shape)
    gleams = x % 25 < 5
    cloth = np.rint(ONE * np.where(gleams, 1.8, 0.8)).astype(np.uint16)
    disc = np.hypot(x - 300, y - 250) < 40

    def is_kept(void: np.ndarray) -> bool:
        light = np.where(void, np.uint16(3 * ONE), cloth)
        lit = replace(surface, ratio=light, expected=inverse_of(halved(cloth)), is_inverse=True)
        shapes, one, nowhere = shapes_of(void), np.ones(1), np.zeros_like(void)
        found = Found(
            void, shapes, shapes.area, one > 0, one, one, "dark", 0.4, 1.0, (), nowhere, [],
            soft_px=one,
        )  # fmt: skip
        zone = zone_of(
            void, light, lit.inspected, sign=1.0, cloth=lit.expected, inverse=lit.is_inverse
        )
        return bool(as_bright(found, zone, lit).kept.all())

    assert is_kept(disc)
    assert not is_kept(disc & (x >= 305) & (x < 325))
