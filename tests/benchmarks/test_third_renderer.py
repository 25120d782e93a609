"""The third renderer's truth, which is so by construction, and its pictures, which repeat."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from tests.benchmarks.second_renderer import joined
from tests.benchmarks.third_camera import View
from tests.benchmarks.third_outlines import Blob, covered
from tests.benchmarks.third_renderer import picture
from tests.benchmarks.third_scenes import SCENES
from tests.pictures import Picture

SMALL = (240, 320)
SQUARE_ON = View.of(SMALL, 12.0, tilt_deg=0, azimuth=0)


def small(name: str, seed: int = 3) -> Picture:
    return picture(replace(SCENES[name], shape=SMALL, px_per_mm=(14, 15), seed=seed))


@pytest.mark.parametrize("name", ["glass, dense", "carbon, tracer"])
def test_the_same_seed_gives_the_same_picture_twice(name):
    first, second, other = small(name), small(name), small(name, seed=4)

    assert np.array_equal(first.grey, second.grey)
    assert np.array_equal(first.cover, second.cover)
    assert first.voids == second.voids
    assert not np.array_equal(first.grey, other.grey)


def test_the_cover_is_a_share_and_its_voids_hold_all_of_it():
    dense = small("carbon, dense")

    assert dense.cover.min() == 0
    assert 0.99 < dense.cover.max() <= 1
    assert sum(void.area for void in dense.voids) == pytest.approx(dense.cover.sum(), rel=1e-4)


@pytest.mark.parametrize("name", ["glass, sound, grooves", "carbon, sound, hairs"])
def test_a_sound_face_has_no_void(name):
    sound = small(name)

    assert not sound.cover.any()
    assert sound.voids == ()


@pytest.mark.parametrize("radius_px", [6.3, 50.7])
def test_a_disc_covers_as_much_as_a_disc_does(radius_px):
    # Off the middle of a pixel on purpose; rows and columns of the picture's own middle are
    # 119.5 and 159.5.
    radius_mm = radius_px / SQUARE_ON.px_per_mm
    top, bottom, left, right = SQUARE_ON.box(0.11, -0.07, radius_mm)
    box = slice(top, bottom), slice(left, right)

    cover = np.zeros(SMALL, np.float32)
    cover[box] = covered(Blob(radius_mm, radius_mm), 0.11, -0.07, box, SQUARE_ON)

    (disc,) = joined(cover)
    assert disc.area == pytest.approx(pi * radius_px**2, rel=0.01)
    assert disc.x == pytest.approx(159.5 + 0.11 * 12, abs=0.05)
    assert disc.y == pytest.approx(119.5 - 0.07 * 12, abs=0.05)


def test_a_tilted_disc_is_foreshortened_by_the_cosine():
    # In the middle of a picture tilted by 15 degrees an area is cos 15° of what it was.
    view = View.of(SMALL, 12.0, tilt_deg=15, azimuth=0.6)
    box = slice(80, 160), slice(120, 200)

    cover = covered(Blob(1.5, 1.5), 0.0, 0.0, box, view)

    assert cover.sum() == pytest.approx(pi * (1.5 * view.px_per_mm) ** 2, rel=0.01)
    assert view.px_per_mm**2 == pytest.approx(144 * np.cos(np.radians(15)))
