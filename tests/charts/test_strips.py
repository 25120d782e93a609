from itertools import combinations

import pytest

from defectlog.charts.drawing import DESK, PHONE
from defectlog.charts.strips import draw_strips


def test_every_value_has_its_dot_and_none_covers_another():
    values = [0.2, 0.2, 0.2, 0.21, 0.4]
    for sheet in (PHONE, DESK):
        (strip, _) = draw_strips([("none", values), ("light", [0.3])], sheet=sheet).strips

        assert [dot.index for dot in strip.dots] == [0, 1, 2, 3, 4]
        for one, other in combinations(strip.dots, 2):
            apart = ((one.x - other.x) ** 2 + (one.y - other.y) ** 2) ** 0.5
            assert apart > 1.9 * 0.42 * sheet.letter
        assert all(strip.top < dot.y < strip.bottom for dot in strip.dots)


def test_equal_distances_of_values_are_equal_on_the_axis():
    drawing = draw_strips([("a", [1.0, 2.0, 3.0])], sheet=PHONE)
    (strip,) = drawing.strips
    first, second, third = (dot.x for dot in strip.dots)

    assert second - first == pytest.approx(third - second, abs=0.02)
    assert strip.mean_x == second
    assert drawing.left <= first and third <= drawing.right


def test_masses_are_not_drawn_from_zero():
    drawing = draw_strips([("a", [205.0, 211.0]), ("b", [219.0])], sheet=DESK, write=str)

    assert float(drawing.ticks[0].words) >= 190


def test_strips_lie_below_one_another_and_a_group_may_be_empty():
    drawing = draw_strips([("a", [1.0]), ("b", [])], sheet=PHONE)
    first, second = drawing.strips

    assert first.bottom < second.top < drawing.height
    assert second.mean_x is None and second.dots == ()


def test_equal_values_and_no_values_at_all_can_be_drawn():
    assert draw_strips([("a", [0.0, 0.0])], sheet=PHONE).strips[0].mean_x is not None
    assert draw_strips([("a", []), ("b", [])], sheet=PHONE).strips[0].dots == ()
    with pytest.raises(ValueError):
        draw_strips([], sheet=PHONE)


def test_values_below_zero_stay_inside_their_strip():
    # Masses below their target.
    for groups in ([("a", [-0.05, -0.02]), ("b", [0.03, 0.1])], [("a", [-0.05, -0.04])]):
        drawing = draw_strips(groups, sheet=PHONE)

        for strip in drawing.strips:
            assert all(drawing.left <= dot.x <= drawing.right for dot in strip.dots)
