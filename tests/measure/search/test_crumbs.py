"""Specks beside large voids: on masks drawn by hand, 10 px to the millimetre."""

import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import as_share
from defectlog.measure.outlines.judging import ALONE
from defectlog.measure.search.crumbs import crumbs_of, without_crumbs
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


def test_contrasts_in_log_units_are_shares_of_light():
    # e^-0.6931 = 0.5 of the light left, e^0.6931 = twice of it.
    assert as_share(0.6931, dark=True) == pytest.approx(0.5, abs=1e-4)
    assert as_share(0.6931, dark=False) == pytest.approx(1.0, abs=1e-3)


def test_a_surface_with_patches_alone_has_no_other_voids():
    picture = render(CASES["patches alone"])

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.count == len(picture.voids)
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.001)
