"""Each warning, and a picture that provokes it."""

import re
from dataclasses import replace

import cv2
import pytest
from skimage import data

from defectlog.measure import Scale, measure_voids
from defectlog.measure.figures.beware import blockiness
from tests.pictures import CASES, Surface, render

SMALL = Surface(size_mm=(50, 40), fraction=0.03, rake=0.2, seed=71)


def warned(surface: Surface, word: str, **asked) -> bool:
    picture = render(surface)
    asked.setdefault("px_per_mm", picture.px_per_mm)
    return any(word in said for said in measure_voids(picture.grey, **asked).warnings)


@pytest.mark.parametrize(
    "word",
    ["blurred", "nearly", "compressed", "glare", "outline the part", "hardly", "Both", "sharpened"],
)
def test_a_good_photo_provokes_none(word):
    assert not warned(SMALL, word)


def test_a_blurred_photo_is_said_to_be():
    assert warned(CASES["very blurred"], "blurred")


@pytest.mark.parametrize(("amount", "wide_px", "said"), [(1.0, 1.8, True), (0.6, 1.2, False)])
def test_a_photo_that_its_camera_sharpened_strongly_is_said_to_be(amount, wide_px, said):
    picture = render(CASES["easy"])
    soft = cv2.GaussianBlur(picture.grey, (0, 0), wide_px)
    sharpened = cv2.addWeighted(picture.grey, 1 + amount, soft, -amount, 0)

    warnings = measure_voids(sharpened, px_per_mm=picture.px_per_mm).warnings

    assert any("sharpened" in one for one in warnings) == said


def test_a_size_asked_for_that_the_photo_cannot_show_is_said_to_be():
    # 0.1 mm at 12 px/mm is 1.2 px.
    assert warned(SMALL, "only 1.2 px wide", smallest_mm=0.1)
    assert not warned(SMALL, "px wide", smallest_mm=0.5)


def test_glare_over_a_tenth_asks_for_another_photo():
    assert warned(replace(SMALL, glare=4.0, size_mm=(60, 50)), "take it again")


def test_a_nearly_white_and_a_nearly_black_photo_are_said_to_be():
    assert warned(replace(SMALL, light=0.9, weave=0.1), "nearly white")
    assert warned(replace(SMALL, light=0.001, noise=0.0002), "nearly black")


@pytest.mark.parametrize("quality", [20, 40])
def test_heavy_compression_is_seen(quality):
    assert warned(replace(SMALL, jpeg=quality), "compressed")


def test_a_picture_that_never_was_compressed_has_no_blocks():
    assert blockiness(render(replace(SMALL, jpeg=None)).grey) == pytest.approx(1.0, abs=0.02)


def test_something_large_at_the_edge_asks_for_an_outline_where_there_is_none():
    picture = render(SMALL).grey.copy()
    cv2.rectangle(picture, (0, 0), (60, 480), 18, -1)

    without = measure_voids(picture, px_per_mm=12)
    within = measure_voids(picture, px_per_mm=12, region=(20, 0, 580, 480))

    assert any("outline the part" in said for said in without.warnings)
    assert any("on the surface alone" in said for said in within.warnings)


def test_what_the_scale_has_to_say_is_passed_on():
    said = ("The surface is tilted by about 25°: hold the camera squarely over it.",)

    found = measure_voids(render(SMALL).grey, scale=Scale("card", px_per_mm=12.0, warnings=said))

    assert found.warnings[:1] == said


def test_a_brick_wall_is_doubted_to_be_a_laminate():
    found = measure_voids(data.brick())

    assert any("is this a laminate" in words for words in found.warnings)


@pytest.mark.parametrize("name", ["gravel", "grass"])
def test_gravel_and_grass_hold_no_voids_and_are_doubted_to_be_a_laminate(name):
    found = measure_voids(getattr(data, name)())

    assert found.is_sound
    assert any("hardly a laminate" in words for words in found.warnings)


def test_where_no_void_is_found_it_is_said_how_faint_a_few_might_be():
    sound = render(replace(SMALL, fraction=0.0))

    (said,) = [one for one in measure_voids(sound.grey, px_per_mm=12).warnings if "unseen" in one]

    told = re.search(r"about ([\d.]+)\xa0% darker.* ([\d.]+)\xa0% brighter", said)
    darker, brighter = (float(share) / 100 for share in told.groups())
    # Some discs that are half as far off again are found; as far by half, none may be.
    for contrast in (1.5 * darker, -1.5 * brighter):
        some = render(replace(SMALL, fraction=0.01, contrast=contrast))
        assert measure_voids(some.grey, px_per_mm=12).count > 0


def test_where_voids_are_found_nothing_is_said_of_none():
    assert not warned(SMALL, "unseen")
