"""Specks beside large voids: on masks drawn by hand, 10 px to the millimetre."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import as_share
from defectlog.measure.outlines.judging import ALONE
from defectlog.measure.search.crumbs import crumbs_of, weak_ones, without_crumbs
from tests.measure.search.test_joining import found_at, surface
from tests.pictures import CASES, render


def test_only_specks_far_from_a_large_void_are_crumbs():
    # 30 by 30 px are 9 mm²; one speck 1 mm away from it, the other 5 mm and more.
    found = found_at((5, 5, 30), (15, 45, 3), (90, 90, 3))

    specks, about = crumbs_of(found, surface())

    assert specks.tolist() == [False, False, True]
    assert about[20, 20]
    assert not about[91, 91]


def test_without_a_large_void_or_with_many_small_ones_there_are_none():
    assert crumbs_of(found_at((60, 60, 4), (5, 5, 4)), surface()) is None
    # 9 mm² in one, and 4 of 0.6 mm² each: more than a quarter of it.
    small = [(90, column, 8) for column in (5, 25, 45, 65, 85)]
    assert crumbs_of(found_at((5, 60, 30), *small), surface()) is None


@pytest.mark.parametrize(("least", "kept"), [(0.9, True), (1.1, False)])
def test_crumbs_have_to_stand_out_by_themselves(least, kept):
    found = found_at((5, 5, 30), (90, 90, 3))  # drawn with a contrast of 1

    left = without_crumbs(found, np.array([False, True]), least)

    assert left.kept.tolist() == [True, kept]
    assert [one.why for one in left.turned] == ([] if kept else [ALONE])


def test_what_was_turned_down_is_not_turned_down_again():
    specks = np.array([False, True])
    once = without_crumbs(found_at((5, 5, 30), (90, 90, 3)), specks, 1.1)

    twice = without_crumbs(once, specks, 1.1)

    assert [len(one.x) for one in twice.turned] == [1]


def test_contrasts_in_log_units_are_shares_of_light():
    # e^-0.6931 = 0.5 of the light left, e^0.6931 = twice of it.
    assert as_share(0.6931, dark=True) == pytest.approx(0.5, abs=1e-4)
    assert as_share(0.6931, dark=False) == pytest.approx(1.0, abs=1e-3)


def test_a_surface_with_patches_alone_has_no_other_voids():
    picture = render(CASES["patches alone"])

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.count == len(picture.voids)
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.001)


@pytest.mark.parametrize(("weak", "height", "told"), [(50, 0.5, 50), (49, 0.5, 0), (50, 0.7, 0)])
def test_many_specks_are_weak_beside_a_few_strong_voids(weak, height, told):
    # Ten of a contrast of 1, and five times as many of half of it: weaker than 0.6.
    places = [(row, column, 3) for row in range(2, 90, 10) for column in range(2, 90, 10)]
    found = found_at(*places[: 10 + weak])
    found = replace(found, height=np.r_[np.ones(10), np.full(weak, height)])

    specks = weak_ones(found)

    assert (0 if specks is None else np.count_nonzero(specks[0])) == told
    if specks is not None:
        # Four pixels about the first, from row and column 2 to 4; the eleventh is a weak one.
        assert specks[1][8, 8]
        assert not specks[1][places[10][0] + 1, places[10][1] + 1]


@pytest.mark.parametrize("seed", range(3))
def test_grain_that_only_strong_voids_make_believable_is_cloth(seed):
    # The sum of two squared normal fields falls exponentially (chi-square of two degrees of
    # freedom): no step in it ends what is cloth. Discs of 6 to 12 px take 0.7 of the light.
    rng = np.random.default_rng(seed)
    side = 900
    fields = [cv2.GaussianBlur(rng.standard_normal((side, side)), (0, 0), 1.6) for _ in range(2)]
    grain = fields[0] ** 2 + fields[1] ** 2
    light = 0.35 * np.exp(-0.03 * grain / grain.mean())
    cover = np.zeros((side, side), np.float32)
    for x, y in rng.uniform(20, side - 20, (30, 2)):
        centre = round(x * 8), round(y * 8)
        cv2.circle(cover, centre, round(rng.uniform(3, 6) * 8), 1.0, -1, cv2.LINE_AA, 3)
    light = cv2.GaussianBlur(light * (1 - 0.7 * cover), (0, 0), 1.0)
    grey = 255 * light ** (1 / 2.2) + 0.8 * rng.standard_normal(light.shape)

    found = measure_voids(np.clip(grey, 0, 255).astype(np.uint8), px_per_mm=10.0)

    assert found.void_fraction == pytest.approx(float(cover.mean()), abs=0.0005)
