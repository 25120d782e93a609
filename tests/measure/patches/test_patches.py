"""Patches that differ from the cloth as a whole, on carbon drawn with known truth."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from defectlog.demo.spec import DrySpot
from defectlog.measure import measure_voids
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.patches.patches import find_patches
from tests.benchmarks import second_renderer
from tests.benchmarks.voids_accuracy import drawn
from tests.pictures import CASES, Picture, Surface, render

# Tows swing by a quarter of the light and more; what lies on them differs by a fifth or less.
CARBON = Surface(
    size_mm=(80, 60), light=0.07, two_tone=0.25, weave=0.2, gap=0.2, noise=0.003, rake=0.2, seed=3
)


@lru_cache(maxsize=4)
def patched(contrast: float) -> Picture:
    """Carbon with one ragged patch of 13 mm and nothing else."""
    return render(replace(CARBON, fraction=0.0001, patches=1, contrast=contrast, seed=20))


def found_in(picture: Picture):
    surface = prepare(picture.grey, np.ones(picture.grey.shape, bool), picture.px_per_mm)
    return find_patches(surface, np.zeros(picture.grey.shape, bool))


@pytest.mark.parametrize("contrast", [-0.1, 0.1])
def test_a_patch_within_the_swing_of_carbon_is_found_where_it_lies(contrast):
    picture = patched(contrast)

    (patch,) = found_in(picture)

    mask = np.zeros(picture.grey.shape, bool)
    rows, columns = patch.mask.shape
    mask[patch.top : patch.top + rows, patch.left : patch.left + columns] = patch.mask
    true = picture.cover > 0.5
    assert patch.is_sure
    assert np.count_nonzero(mask & true) / np.count_nonzero(mask | true) > 0.75
    assert (patch.tone > 0) == (contrast < 0)
    assert patch.swing < -0.3


def test_a_patch_counts_among_the_voids_within_its_interval():
    picture = patched(-0.1)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high
    assert found.count == 1
    assert found.voids[0].kind == "dry patch"
    assert any("differing from the cloth" in words for words in found.warnings)


def test_a_pale_patch_is_no_void_where_dark_ones_are_asked_for():
    picture = patched(-0.1)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm, look="dark")

    assert found.count == 0


@pytest.mark.parametrize("seed", [3, 4])
def test_sound_carbon_has_no_patches(seed):
    assert found_in(render(replace(CARBON, seed=seed))) == ()


@pytest.mark.parametrize(("reach_mm", "off"), [(7.0, -0.35), (5.0, -0.3), (7.0, 0.35)])
def test_a_soft_shadow_or_gleam_on_carbon_is_no_patch(reach_mm, off):
    sound = render(CARBON)
    y, x = np.indices(sound.grey.shape) / sound.px_per_mm
    shade = 1 + off * np.exp(-((x - 40) ** 2 + (y - 30) ** 2) / (2 * reach_mm**2))
    grey = np.round(255 * ((sound.grey / 255) ** 2.2 * shade) ** (1 / 2.2)).astype(np.uint8)

    assert found_in(replace(sound, grey=grey)) == ()


def test_of_a_strip_narrower_than_the_cells_no_patch_is_told():
    rng = np.random.default_rng(5)
    grey = rng.normal(120, 6, (2500, 30)).clip(0, 255).astype(np.uint8)

    found = measure_voids(grey, px_per_mm=70.0, region=(5, 3, 10, 2480))

    assert found.inspected_px == 24_800
    assert found.void_fraction == 0


def test_the_same_picture_gives_the_same_patches_to_the_bit():
    first, second = (found_in(patched(0.1)) for _ in range(2))

    assert [p.mask.tobytes() for p in first] == [p.mask.tobytes() for p in second]
    assert [(p.tone, p.swing) for p in first] == [(p.tone, p.swing) for p in second]


def test_dry_cloth_under_a_mirrored_window_is_found_and_the_window_is_not():
    # The window's pane is as bright as the patch, and far wider; the patch mirrors nothing.
    picture = render(CASES["matt patch on carbon"])

    (patch,) = found_in(picture)

    assert patch.is_sure
    assert patch.area_px == pytest.approx(picture.cover.sum(), rel=0.35)
    assert picture.cover[
        patch.top + patch.mask.shape[0] // 2, patch.left + patch.mask.shape[1] // 2
    ]


@pytest.mark.parametrize("salt", [136, 140, 150])
def test_dry_cloth_in_the_middle_of_a_mirrored_window_is_counted(salt):
    # What the window adds on all sides of it makes it no softer.
    picture = drawn("first", salt, "matt patch on carbon")

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, rel=0.06)
    assert found.void_fraction_low < picture.fraction < found.void_fraction_high


def test_the_mask_of_a_patch_holds_what_was_found_of_it_before():
    picture = render(CASES["matt patch on carbon"])

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.voids_mask.mean() == pytest.approx(found.void_fraction, rel=0.02)


@pytest.mark.parametrize(("share", "is_sure"), [(0.9, False), (1.0, False), (1.1, True)])
def test_a_patch_that_the_pictures_edge_cuts_may_be_one_but_is_not_counted_for_sure(share, is_sure):
    picture = patched(0.1)
    (columns,) = np.nonzero((picture.cover > 0.5).any(axis=0))
    cut = int(columns[0] + share * np.ptp(columns))
    grey = np.ascontiguousarray(picture.grey[:, :cut])
    surface = prepare(grey, np.ones(grey.shape, bool), picture.px_per_mm)

    (patch,) = find_patches(surface, np.zeros(grey.shape, bool))

    assert patch.is_sure == is_sure


def drawn_for_the_demo(name: str, salt: int) -> Picture:
    """A picture of the demo's renderer, whose truth is the area it covered."""
    number = list(second_renderer.SPECS).index(name) + 1000 * salt
    spec = replace(second_renderer.SPECS[name], seed=number, surface_seed=number)
    return second_renderer.picture(spec)


@pytest.mark.parametrize("salt", [152, 174])
def test_a_place_where_cloth_happens_to_be_calm_is_no_patch_for_sure(salt):
    picture = drawn_for_the_demo("glass, 36 px/mm", salt)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0005)
    assert any("may be" in warning for warning in found.warnings)


def test_a_patch_that_is_not_counted_is_within_the_upper_limit_and_named():
    picture = patched(0.1)
    (columns,) = np.nonzero((picture.cover > 0.5).any(axis=0))
    grey = np.ascontiguousarray(picture.grey[:, : columns[-1]])

    found = measure_voids(grey, px_per_mm=picture.px_per_mm)

    assert found.count == 0
    assert picture.cover[:, : columns[-1]].mean() <= found.void_fraction_high
    assert any("may be dry cloth" in words for words in found.warnings)


# On the flank of what is mirrored; half on a brighter pane; two tows wide; beside the window;
# near the edge of the picture.
@pytest.mark.parametrize("salt", [49, 72, 77, 85, 119])
def test_a_matt_patch_under_a_mirrored_window_counts_though_single_tows_step_as_far(salt):
    case = CASES["matt patch on carbon"]
    picture = render(replace(case, seed=case.seed + 1000 * salt))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)


# Of two spots each shows its step at the other; ragged; with spots beside it; whose tows go as
# far as light that glares; in light that slopes; found by half already; with dark cloth beside
# it; with a waist.
@pytest.mark.parametrize("salt", [47, 54, 61, 65, 72, 84, 99, 111])
def test_a_ragged_dry_spot_on_carbon_is_counted_with_its_lobes(salt):
    picture = drawn_for_the_demo("carbon, dry spot", salt)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.inspected_mask.all()
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high
    large = [void for void in picture.voids if void.area > 9 * picture.px_per_mm**2]
    assert all(found.voids_mask[round(void.y), round(void.x)] for void in large)


def test_a_weak_spot_that_is_off_as_a_whole_is_counted():
    # It steps by half of what the others do, and on one side by hardly anything.
    picture = drawn_for_the_demo("carbon, dry spot", 95)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


# The panes are paler than the cloth as well, by two thirds of what the spot is, and twice as wide;
# with the second, one ends within the spot.
@pytest.mark.parametrize("salt", [117, 197])
def test_of_a_dry_spot_beside_the_panes_of_a_window_the_spot_is_counted(salt):
    picture = drawn_for_the_demo("carbon, dry spot", salt)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


# It alone under a pane; half under one, the other half beside it; with two panes beside it; where
# one pane ends.
@pytest.mark.parametrize(
    ("at", "size", "seed"),
    [
        ((28, -14), (16, 12), 7000287),
        ((0, 18), (34, 16), 7000208),
        ((0, 18), (34, 16), 7000178),
        ((0, 18), (34, 16), 7000428),
    ],
)
def test_a_dry_spot_is_told_from_the_panes_that_are_mirrored_over_it_and_beside_it(at, size, seed):
    spec = second_renderer.photo(second_renderer.CARBON, others=(DrySpot(at, size),))
    picture = second_renderer.picture(replace(spec, seed=seed, surface_seed=seed))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


def test_the_weaker_a_patch_is_the_further_its_outline_may_be_off():
    # One outline, and steps of half the light and of a third.
    (strong,), (weak,) = (found_in(patched(contrast)) for contrast in (-0.6, -0.45))

    assert weak.unsure_px > 1.1 * strong.unsure_px
    for patch in (strong, weak):
        assert patch.area_px == pytest.approx(patched(-0.6).cover.sum(), abs=patch.unsure_px)


def test_more_patches_than_are_looked_at_at_once_are_found():
    many = replace(CARBON, size_mm=(130, 100), fraction=0.05, patches=8, contrast=-0.9, seed=22)
    picture = render(many)

    patches = found_in(picture)

    assert len(patches) == len(picture.voids) == 8
    assert sum(patch.area_px for patch in patches) == pytest.approx(picture.cover.sum(), rel=0.06)


# Of 60, splinters found as voids lie in it and about it.
@pytest.mark.parametrize("salt", [49, 58, 60])
def test_dry_spots_beside_each_other_do_not_hide_each_other(salt):
    picture = drawn_for_the_demo("glass, dry spots", salt)

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0025)
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high


@pytest.mark.parametrize(("two_tone", "glare"), [(0.2, 2.0), (0.25, 1.5), (0.4, 3.0)])
def test_a_soft_glint_on_two_tone_cloth_is_no_patch(two_tone, glare):
    # It fades out over a centimetre, and is two to four times as bright as the cloth.
    glint = replace(CARBON, size_mm=(60, 45), two_tone=two_tone, glare=glare, gap=0.3, rake=0.0)

    found = measure_voids(render(glint).grey, px_per_mm=glint.px_per_mm)

    assert found.void_fraction < 0.0002


@pytest.mark.parametrize("salt", [180, 190])
def test_a_close_look_at_carbon_leaves_no_doubt_of_dry_cloth(salt):
    picture = drawn("second", salt, "carbon, 20 px/mm")

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    # Of the ten tows across it, some lie darker or lighter than those beside them.
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high
    assert found.void_fraction_high < picture.fraction + 0.005
