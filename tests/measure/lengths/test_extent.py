"""Sizes of marks, against hand sums."""

import math

import numpy as np
import pytest

from defectlog.measure.lengths.extent import equivalent_diameter, longest_extent, mark_extent
from defectlog.measure.lengths.scale import given_scale, scale_from_points


def test_a_line_is_as_long_as_its_legs():
    # 3-4-5 and 5-12-13: 5 + 13 = 18 px; from end to end (8, 16): √320 = 17.889 px.
    found = mark_extent("line", [(0, 0), (3, 4), (8, 16)], given_scale(2.0))

    assert found.length_px == pytest.approx(18.0)
    assert found.length_mm == pytest.approx(9.0)
    assert found.longest_px == pytest.approx(math.sqrt(320))
    assert found.area_px2 is None


def test_a_box_may_be_given_by_two_corners():
    # 30 x 40 px at 10 px/mm: 12 mm², diagonal 5 mm, circle of 2·√(12/π) = 3.909 mm.
    found = mark_extent("box", [(40, 60), (10, 20)], given_scale(10.0))

    assert found.area_px2 == pytest.approx(1200.0)
    assert found.area_mm2 == pytest.approx(12.0)
    assert found.longest_mm == pytest.approx(5.0)
    assert found.diameter_mm == pytest.approx(3.9088, abs=5e-5)


def test_a_concave_outline_is_sized_by_its_own_area():
    # An L of three unit squares of 10 px; furthest corners (0, 20) and (20, 0).
    corners = [(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)]

    found = mark_extent("outline", corners)

    assert found.area_px2 == pytest.approx(300.0)
    assert found.longest_px == pytest.approx(math.sqrt(800))
    assert found.area_mm2 is None


def test_a_size_carries_the_uncertainty_of_its_scale():
    scale = scale_from_points((0, 0), (1000, 0), 100)

    assert mark_extent("line", [(0, 0), (9, 0)], scale).uncertainty_pct == scale.uncertainty_pct


def test_a_point_has_no_size():
    found = mark_extent("point", [(4, 5)], given_scale(3.0))

    assert (found.length_px, found.area_mm2, found.longest_mm) == (None, None, None)


@pytest.mark.parametrize(("shape", "points"), [("line", 1), ("outline", 2), ("box", 1)])
def test_too_few_points_for_a_shape_are_refused(shape, points):
    with pytest.raises(ValueError, match="needs"):
        mark_extent(shape, [(0, 0)] * points)


def test_the_longest_extent_is_that_of_all_pairs():
    points = np.random.default_rng(4).uniform(0, 900, size=(60, 2))
    pairs = np.hypot(*(points[:, None] - points[None]).T)

    assert longest_extent(points) == pytest.approx(pairs.max(), rel=1e-12)


def test_the_longest_extent_of_points_on_a_line_is_its_length():
    assert longest_extent([(1, 1), (4, 5), (7, 9)]) == pytest.approx(10.0)


def test_the_equivalent_diameter_of_a_disc_is_its_own():
    assert equivalent_diameter(math.pi * 2.5**2) == pytest.approx(5.0)
