"""The scale of a photo, against hand sums and shapes laid out by a known projection."""

import math

import numpy as np
import pytest

from defectlog.measure.lengths.scale import (
    NO_SCALE,
    BadScaleError,
    Scale,
    given_scale,
    polygon_area,
    scale_from_points,
)


def test_two_points_a_known_length_apart_give_the_scale():
    # 3-4-5: the points lie 500 px apart, for 50 mm.
    scale = scale_from_points((100, 100), (400, 500), 50)

    assert scale.source == "points"
    assert scale.px_per_mm == pytest.approx(10.0)


def test_the_uncertainty_of_two_points_joins_pointing_and_reading():
    # √2 · 3 px of 500 px is 0.849 %, 0.5 mm of 50 mm is 1 %: together √(0.72 + 1) = 1.31 %.
    scale = scale_from_points((100, 100), (400, 500), 50)

    assert scale.uncertainty_pct == pytest.approx(1.3115, abs=5e-4)
    assert "±3 px" in scale.warnings[0]


def test_a_finger_from_far_away_leaves_the_scale_less_sure_and_says_what_helps():
    # √2 · 25 px of 500 px is 7.07 %, 0.5 mm of 50 mm is 1 %: together √(50 + 1) = 7.14 %.
    scale = scale_from_points((100, 100), (400, 500), 50, pointing_px=25)

    assert scale.uncertainty_pct == pytest.approx(7.1414, abs=5e-4)
    assert "±25 px" in scale.warnings[0]
    assert "±7 %" in scale.warnings[1] and "come closer" in scale.warnings[1]


def test_two_points_close_together_are_refused():
    with pytest.raises(BadScaleError, match="further apart"):
        scale_from_points((100, 100), (105, 105), 50)


@pytest.mark.parametrize("length", [0.0, -3.0, math.nan, math.inf])
def test_a_length_that_is_none_is_refused(length):
    with pytest.raises(BadScaleError, match="above 0 mm"):
        scale_from_points((0, 0), (400, 300), length)


@pytest.mark.parametrize("value", [0.0, -12.0, math.nan, math.inf])
def test_a_scale_that_is_none_is_refused(value):
    with pytest.raises(BadScaleError, match="such as 12.5"):
        given_scale(value)


def test_the_area_of_a_bank_card_follows_from_its_pixels():
    # ISO/IEC 7810 ID-1, 85.60 x 53.98 mm: 4620.688 mm² with square corners.
    k = 1012 / 85.60
    outline = [(50, 40), (50 + 1012, 40), (50 + 1012, 40 + 53.98 * k), (50, 40 + 53.98 * k)]

    assert given_scale(k).area_mm2(outline) == pytest.approx(4620.688, rel=1e-9)


def test_without_a_scale_there_are_no_millimetres():
    assert NO_SCALE.length_mm([(0, 0), (3, 4)]) is None
    assert NO_SCALE.area_mm2([(0, 0), (3, 0), (3, 4)]) is None
    assert NO_SCALE.px_per_mm_at(3, 4) is None
    with pytest.raises(ValueError, match="no scale"):
        NO_SCALE.to_mm([(0, 0)])


def tilted() -> tuple[Scale, np.ndarray]:
    """A plane seen aslant; and its projection from mm to px, chosen by hand."""
    to_px = np.array([[10.0, 0.4, 500.0], [-0.3, 9.0, 400.0], [0.0, 0.0008, 1.0]])
    to_mm = np.linalg.inv(to_px)
    to_mm /= to_mm[2, 2]
    rows = tuple(tuple(float(value) for value in row) for row in to_mm)
    return Scale("card", px_per_mm=9.5, homography=rows), to_px


def project(to_px: np.ndarray, points_mm: list[tuple[float, float]]) -> list[tuple[float, float]]:
    flat = np.column_stack([points_mm, np.ones(len(points_mm))]) @ to_px.T
    return [(x / w, y / w) for x, y, w in flat]


def test_lengths_and_areas_on_a_tilted_surface_are_those_of_the_surface():
    scale, to_px = tilted()
    # A 30 x 40 mm rectangle: diagonal 50 mm, area 1200 mm².
    corners = project(to_px, [(10, 20), (40, 20), (40, 60), (10, 60)])

    assert scale.length_mm([corners[0], corners[2]]) == pytest.approx(50.0, rel=1e-9)
    assert scale.area_mm2(corners) == pytest.approx(1200.0, rel=1e-9)


def test_the_local_scale_turns_a_small_area_into_that_of_the_surface():
    scale, to_px = tilted()
    # A square of 0.01 mm: so small that the scale does not change across it.
    corners = project(to_px, [(5, 30), (5.01, 30), (5.01, 30.01), (5, 30.01)])

    per_mm = float(scale.px_per_mm_at(*corners[0]))

    assert polygon_area(corners) / per_mm**2 == pytest.approx(0.0001, rel=1e-4)


def test_the_shoelace_sum_keeps_its_digits_far_from_the_origin():
    square = [(1e7, 1e7), (1e7 + 1, 1e7), (1e7 + 1, 1e7 + 1), (1e7, 1e7 + 1)]

    assert polygon_area(square) == pytest.approx(1.0, rel=1e-9)
