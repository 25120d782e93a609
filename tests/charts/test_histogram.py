"""Bars on a scale of powers of ten: heights and places by hand."""

import pytest

from defectlog.charts.histogram import LOW, TOP, WIDTH, histogram_drawing


def test_a_bar_of_nine_is_half_as_high_as_one_of_ninety_nine():
    # log10(1 + 9) = 1 and log10(1 + 99) = 2.
    low, high = histogram_drawing((-1, 0, 1), (9, 99)).bars

    assert (low.height, high.height) == ((LOW - TOP) / 2, LOW - TOP)
    assert low.y + low.height == high.y + high.height == LOW
    assert (low.x, low.width, high.x) == (0, WIDTH / 2, WIDTH / 2)


def test_empty_bins_at_the_ends_are_cut_off_but_zero_and_the_line_stay():
    drawing = histogram_drawing((-4, -3, -2, -1, 0, 1, 2), (0, 0, 0, 5, 0, 0), line=-2)

    # From the line at -2 to zero: two units across the whole width.
    assert drawing.line_x == 0
    (bar,) = drawing.bars
    assert (bar.x, bar.width) == (WIDTH / 2, WIDTH / 2)


@pytest.mark.parametrize(
    ("line", "past"), [(-1.5, [True, False, False]), (0.5, [False, False, True])]
)
def test_bars_on_the_far_side_of_the_line_are_past_it(line, past):
    bars = histogram_drawing((-3, -2, 0, 2), (1, 1, 1), line=line).bars

    assert [bar.is_past for bar in bars] == past


def test_nothing_counted_draws_no_bar():
    assert histogram_drawing((0, 1), (0,)).bars == ()


def test_edges_and_counts_have_to_fit():
    with pytest.raises(ValueError, match="2 counts need 3 edges"):
        histogram_drawing((0, 1), (1, 1))
