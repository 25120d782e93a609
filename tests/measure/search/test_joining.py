"""Patches joined to the voids found pixel by pixel: on masks drawn by hand."""

from dataclasses import replace

import numpy as np
import pytest

from defectlog.measure.arrays.look import Look
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.outlines.shapes import shapes_of
from defectlog.measure.patches.patches import Patch
from defectlog.measure.search.joining import small_voids, with_patches

SIDE = 100


def surface():
    noise = np.random.default_rng(1).integers(118, 122, (SIDE, SIDE)).astype(np.uint8)
    return prepare(noise, np.ones((SIDE, SIDE), bool), 10.0)


def found_at(*squares: tuple[int, int, int]) -> Found:
    mask = np.zeros((SIDE, SIDE), bool)
    for row, column, side in squares:
        mask[row : row + side, column : column + side] = True
    return found_of(mask, "dark")


def found_of(mask: np.ndarray, look: Look) -> Found:
    """The objects of a mask as voids of a contrast of 1."""
    shapes = shapes_of(mask)
    ones = np.ones(len(shapes.area))
    none = np.zeros_like(mask)
    return Found(mask, shapes, shapes.area, ones > 0, ones, ones, look, 0.2, 1.0, (), none, [])


def patch(*, is_sure: bool = True, tone: float = 0.2) -> Patch:
    return Patch(np.ones((20, 30), bool), 10, 40, tone, -0.5, 96.0, is_sure)


@pytest.mark.parametrize("side", [10, 20])
def test_a_patch_that_a_void_makes_up_keeps_the_outline_of_the_void(side):
    # A sixth or two thirds of its 600 px are void, the rest as light as the surface anywhere.
    found, used = with_patches(
        found_at((12, 45, side)), surface(), (patch(tone=-0.2),), look="auto"
    )

    assert not used
    assert found.area[found.kept].tolist() == [side**2]


def test_a_sure_patch_is_one_void_more_of_its_own_area():
    found, used = with_patches(found_at((60, 60, 4)), surface(), (patch(),), look="auto")

    assert len(used) == 1
    assert found.area[found.kept].tolist() == [16, 600]
    assert (found.shapes.x[1], found.shapes.y[1]) == (54.5, 19.5)
    assert np.count_nonzero(found.mask) == 616


def test_what_was_found_within_a_patch_is_part_of_it():
    found, _ = with_patches(found_at((15, 50, 4)), surface(), (patch(),), look="auto")

    assert found.kept.tolist() == [False, True]
    assert found.area[found.kept].sum() == 600


def test_a_patch_that_is_void_already_adds_nothing():
    found, used = with_patches(found_at((5, 35, 40)), surface(), (patch(),), look="auto")

    assert used == ()
    assert found.area.tolist() == [1600]


def test_a_patch_that_only_may_be_one_is_left_to_the_upper_limit():
    found, used = with_patches(
        found_at((60, 60, 4)), surface(), (patch(is_sure=False),), look="auto"
    )

    assert len(used) == 1
    assert found.area.tolist() == [16]
    # Its 600 pixels, and those by which its outline may be off.
    assert found.doubtful_px == 600 + 96


def test_a_patch_of_the_other_side_is_left_out_where_one_side_is_asked_for():
    found, used = with_patches(found_at((60, 60, 4)), surface(), (patch(),), look="dark")

    assert used == ()
    assert found.doubtful_px == 0


def test_a_patch_beside_a_fold_only_may_be_one():
    found = found_at((60, 60, 4))
    found.struck[31:51, 20:90] = True  # along the whole of its lower side

    found, used = with_patches(found, surface(), (patch(),), look="auto")

    assert [one.is_sure for one in used] == [False]
    assert found.area.tolist() == [16]


def test_a_patch_that_is_clear_by_itself_counts_beside_a_fold_too():
    found = found_at((60, 60, 4))
    found.struck[31:51, 20:90] = True

    found, used = with_patches(found, surface(), (replace(patch(), is_clear=True),), look="auto")

    assert [one.is_sure for one in used] == [True]
    assert found.area[found.kept].tolist() == [16, 600]


def test_a_large_void_is_looked_at_anew_for_it_may_be_a_piece_of_a_patch():
    # 20 by 20 px at 10 px/mm are 4 mm²; 4 by 4 are a pinhole.
    found = found_at((10, 10, 20), (60, 60, 4))

    known = small_voids(found.mask, found.shapes.at, found.shapes.label, surface())

    assert np.count_nonzero(known) == 16
    assert known[61, 61]


@pytest.mark.parametrize(("bend", "taken"), [(0.0, 1), (0.4, 0)])
def test_a_patch_that_takes_as_much_light_as_it_gives_is_none_where_it_lies_across_a_crease(
    bend, taken
):
    row = (np.arange(300, dtype=np.float32)[:, None] - 150) / 10
    light = 0.3 * (1 + bend * row * np.exp(-(row**2) / 2)) * np.ones((1, 400), np.float32)
    light += np.random.default_rng(1).normal(0, 0.002, light.shape)
    grey = np.round(255 * light ** (1 / 2.2)).astype(np.uint8)
    creased = prepare(grey, np.ones(grey.shape, bool), 10.0)
    none = found_of(np.zeros(grey.shape, bool), "dark")
    across = Patch(np.ones((30, 200), bool), 135, 100, 0.04, 0.5, 96.0, True)

    found, used = with_patches(none, creased, (across,), look="auto")

    assert len(used) == taken
    assert np.count_nonzero(found.kept) == taken
