import pytest

from defectlog.charts import individuals, rates
from defectlog.charts.drawing import (
    DESK,
    PHONE,
    LimitStretch,
    Sheet,
    draw_series,
)

# 4 strips of 100 between 0 and 400, 200 high: places by hand.
PLAIN = Sheet(
    width=400, height=200, letter=10, margin_left=0, margin_right=0, margin_bottom=0, margin_top=0
)


def test_points_stand_in_the_middle_of_their_strips_and_the_axis_starts_at_nothing():
    found = draw_series([0, 2, 4, 1], list("abcd"), sheet=PLAIN)

    assert [(dot.x, dot.y) for dot in found.dots] == [(50, 200), (150, 100), (250, 0), (350, 150)]
    assert [(dot.strip_x, dot.strip_width) for dot in found.dots][1] == (100, 100)
    assert found.y_ticks[0].words == "0" and found.y_ticks[0].place == 200


def test_a_gap_stays_open():
    found = draw_series([4, 4, None, 4], list("abcd"), sheet=PLAIN)

    assert found.runs == ("50,0 150,0",)
    assert [dot.index for dot in found.dots] == [0, 1, 3]


def test_no_line_leads_across_a_break():
    drawing = draw_series([1, 2, 3, 4], list("abcd"), sheet=DESK, breaks=[2])

    assert [len(run.split()) for run in drawing.runs] == [2, 2]


def test_limits_are_drawn_from_edge_to_edge_of_their_stretch():
    stretch = LimitStretch(0, 2, 2.0, 1.0, 3.0)

    band = draw_series([4, 2, 4, 4], list("abcd"), sheet=PLAIN, limits=[stretch]).bands[0]

    assert band.centre == "M0 100 L200 100"
    assert band.upper == "M0 50 L100 50 L100 50 L200 50"
    assert band.area.endswith("L0 150 Z")


def test_limits_that_vary_are_drawn_as_steps():
    chart = rates([4, 8], [1, 4], overdispersed=False)

    band = draw_series(chart.values, "ab", sheet=PLAIN, limits=[LimitStretch.of(chart)]).bands[0]

    heights = {pair.split(" ")[1] for pair in band.upper.removeprefix("M").split(" L")}
    assert len(heights) == 2


def test_limits_above_all_points_are_on_the_drawing():
    chart = individuals([1.0, 5.0, 1.0])  # mean range 4: upper limit 2.33 + 10.6

    found = draw_series(chart.values, "abc", sheet=PLAIN, limits=[LimitStretch.of(chart)])

    assert float(found.y_ticks[-1].words) >= chart.upper


def test_a_point_outside_has_a_shape_of_its_own():
    dots = draw_series([0, 4], "ab", sheet=PLAIN, outside=[1]).dots

    assert dots[0].diamond is None
    assert dots[1].diamond.startswith("M300 -5.5 l5.5 5.5")


@pytest.mark.parametrize("sheet", [PHONE, DESK])
def test_labels_under_many_points_do_not_touch_and_keep_the_newest(sheet):
    labels = [str(number) for number in range(101, 161)]

    ticks = draw_series([1.0] * 60, labels, sheet=sheet).x_ticks

    # Three figures of at most 0.6 of a letter each.
    assert all(
        b.place - a.place > 1.8 * sheet.letter for a, b in zip(ticks, ticks[1:], strict=False)
    )
    assert ticks[-1].words == "160"


def test_words_of_neighbouring_changes_stand_on_different_rows():
    changes = [(1, "vacuum infusion"), (2, "no tack adhesive"), (3, "release-coated peel ply")]

    found = draw_series([1.0] * 4, list("abcd"), sheet=PHONE, changes=changes)

    assert len({line.words_y for line in found.changes}) == 3
    assert found.top > max(line.words_y for line in found.changes)
    assert found.changes[0].x == found.dots[1].strip_x


def test_no_line_strikes_through_the_words_of_a_change_before_it():
    # Words of 15 letters are longer than a strip of 71: the second line would cross the first
    # words, so it begins below them.
    changes = [(1, "vacuum infusion"), (2, "none")]

    first, second = draw_series([1.0] * 4, list("abcd"), sheet=PHONE, changes=changes).changes

    assert second.x < first.words_x + 0.56 * PHONE.letter * 15
    assert second.top > first.words_y


def test_words_that_would_run_off_the_right_stand_left_of_their_line():
    line = draw_series(
        [1.0] * 4, list("abcd"), sheet=PHONE, changes=[(3, "vacuum infusion")]
    ).changes[0]

    assert line.anchor == "end"
    assert line.words_x < line.x


def test_one_value_alone_and_no_variation_can_be_drawn():
    assert len(draw_series([0.0], ["1"], sheet=PHONE).dots) == 1
    assert draw_series([None], ["1"], sheet=PHONE).dots == ()


def test_values_below_nothing_that_differ_by_rounding_alone_can_be_drawn():
    drawing = draw_series([-0.93, -0.93 + 1e-16, -0.93], list("abc"), sheet=DESK)

    assert len({dot.y for dot in drawing.dots}) == 1
    assert drawing.y_ticks[-1].words == "0"


def test_nothing_to_draw_is_the_callers_mistake():
    with pytest.raises(ValueError):
        draw_series([], [], sheet=PHONE)
    with pytest.raises(ValueError):
        draw_series([1.0], [], sheet=PHONE)
