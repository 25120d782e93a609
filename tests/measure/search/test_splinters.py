"""Splinters of a dry spot: on cloth drawn by hand, 10 px to the millimetre."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface, prepare
from defectlog.measure.patches.patches import Patch
from defectlog.measure.search.splinters import is_apart, with_splinters
from tests.measure.search.test_joining import found_of

SHAPE = (400, 600)
SPOT = (150, 60, 60, 60)  # row, column, height and width: 36 mm²
DRY = 2.0  # times the light of the cloth


@lru_cache(maxsize=1)
def cloth() -> np.ndarray:
    """Tows 2 mm apart that swing by a sixth of their light, and grain."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]] * np.pi / 20
    grain = np.random.default_rng(4).normal(1, 0.02, SHAPE)
    return (1 + 0.17 * np.sin(x) * np.sin(y)) * grain


def photographed(*dry: tuple[int, int, int, int], light: float = DRY) -> Surface:
    """The cloth with a spot and other rectangles of so much light on it."""
    drawn = cloth().copy()
    for (row, column, height, width), times in ((SPOT, DRY), *((one, light) for one in dry)):
        drawn[row : row + height, column : column + width] *= times
    grey = np.round(255 * np.clip(0.2 * drawn, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    return prepare(grey, np.ones(SHAPE, bool), 10.0)


def spot_found(*others: tuple[int, int, int, int]) -> Found:
    """The spot as a void twice as light as the cloth, and other voids."""
    mask = np.zeros(SHAPE, bool)
    for row, column, height, width in (SPOT, *others):
        mask[row : row + height, column : column + width] = True
    return found_of(mask, "bright")


def counted(found: Found) -> list[float]:
    return sorted(found.area[found.kept].tolist())


def test_what_is_as_dry_as_the_spot_beside_it_is_a_splinter():
    # 4 mm from the spot. Half a pixel along its outline of 40 is 20 of its area.
    found = with_splinters(spot_found(), photographed((180, 160, 8, 12)))

    splinter, spot = counted(found)
    assert spot == 3600
    assert splinter == pytest.approx(96, abs=20)
    assert found.mask[184, 166]


def test_what_is_as_dry_far_from_the_spot_is_not():
    # 30 mm from the spot: it has to stand out by itself.
    far = (180, 420, 8, 12)

    assert counted(with_splinters(spot_found(), photographed(far))) == [3600]


def test_what_is_no_lighter_than_the_cloth_goes_elsewhere_is_cloth():
    # A fifth more light is nothing new where tows reach 17 % by themselves.
    weak = photographed((180, 160, 8, 12), light=1.2)

    assert counted(with_splinters(spot_found(), weak)) == [3600]


@pytest.mark.parametrize(
    ("side", "excess", "about", "splinter"),
    [
        (12, 0.5, 0.0, True),
        (12, 0.3, 0.0, False),  # as wide as a tow, and fainter than dry ones
        (6, 0.3, 0.0, True),  # blur may have taken the rest
        (12, 0.5, 0.2, False),  # a part of something wider
    ],
)
def test_a_splinter_is_set_off_from_what_is_about_it_and_as_light_as_dry_tows(
    side, excess, about, splinter
):
    drawn = np.full((40, 40), about, np.float32)
    objects = np.zeros(drawn.shape, bool)
    objects[14 : 14 + side, 14 : 14 + side] = True
    drawn[objects] = excess

    found = is_apart(objects, drawn, np.ones(drawn.shape, bool), 0.45)

    assert found.any() == splinter
    assert not (found & ~objects).any()


def test_what_sticks_out_of_the_spot_is_part_of_it():
    row, column, _, width = SPOT
    tongue = (row + 20, column + width, 10, 20)

    found = with_splinters(spot_found(), photographed(tongue))

    (area,) = counted(found)
    assert area == pytest.approx(3600 + 200, abs=40)
    assert found.mask[row + 25, column + width + 10]


def test_a_hair_beside_the_spot_is_no_splinter():
    hair = (120, 130, 3, 90)

    assert counted(with_splinters(spot_found(), photographed(hair))) == [3600]


def test_a_speck_too_small_to_be_shown_is_taken_for_the_splinter_it_is_of():
    splinter = (180, 160, 8, 12)
    found = spot_found((183, 165, 2, 2))

    found = with_splinters(found, photographed(splinter))

    assert counted(found) == [pytest.approx(96, abs=20), 3600]


def test_a_spot_at_the_side_of_the_picture_does_not_grow_towards_it():
    # As the first one, but the spot begins two pixels from the left side.
    mask = np.zeros(SHAPE, bool)
    mask[150:210, 2:62] = True
    found = found_of(mask, "bright")

    found = with_splinters(found, photographed((150, 2, 60, 58), (180, 160, 8, 12)))

    assert not found.mask[150:210, :2].any()


def test_where_small_voids_are_a_population_none_is_a_splinter():
    # 36 mm² in the spot, 24 voids of 0.5 mm² are more than a quarter of it.
    small = [(row, column, 7, 7) for row in range(20, 380, 90) for column in range(300, 580, 45)]
    found = spot_found(*small)
    surface = photographed((180, 160, 8, 12))

    assert with_splinters(found, surface) is found


def test_beside_a_patch_of_the_other_side_nothing_is_looked_for():
    found = spot_found()
    darker = Patch(np.ones((20, 20), bool), 300, 400, -0.2, -0.5, 80.0, is_sure=True)

    assert with_splinters(found, photographed((180, 160, 8, 12)), (darker,)) is found


def test_beside_long_bands_nothing_is_looked_for():
    found = spot_found()
    band = replace(found, shapes=replace(found.shapes, words=("long",)))

    assert with_splinters(band, photographed((180, 160, 8, 12))) is band
