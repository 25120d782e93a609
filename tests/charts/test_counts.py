import pytest

from defectlog.charts import ChartInputError, TooFewValuesError, counts

# NIST/SEMATECH e-Handbook, 6.3.3.1 Counts Control Charts, file MONITOR-6_3_3_1.DAT: defects on
# 25 wafers, mean 16, limits printed as 4 and 28.
WAFERS = [
    *[16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14],
    *[16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13],
]


def test_limits_are_those_nist_prints():
    chart = counts(WAFERS)

    assert (chart.centre, chart.lower, chart.upper) == (16, 4, 28)
    assert chart.notes == ()


def test_the_wafer_on_the_limit_is_inside_and_the_one_past_it_is_out():
    assert [signal.index for signal in counts(WAFERS).signals] == [23]


def test_the_lower_limit_does_not_fall_below_zero_and_rare_counts_carry_a_warning():
    # Mean 1, limits 1 - 3 and 1 + 3. The warning below 5 is that of the same NIST page.
    chart = counts([1, 0, 2, 1])

    assert (chart.lower, chart.upper) == (0, 4)
    assert "Fewer than 5" in chart.notes[0]


def test_missing_builds_stay_gaps():
    chart = counts([4, None, 4])

    assert chart.values == (4, None, 4)
    assert chart.centre == 4


def test_builds_outside_the_baseline_are_shown_but_not_used():
    chart = counts([4, 4, 40], baseline=[0, 1])

    assert chart.centre == 4
    assert [signal.index for signal in chart.signals] == [2]


@pytest.mark.parametrize("bad", [[-1, 2], [1.5, 2]])
def test_what_is_no_count_is_refused(bad):
    with pytest.raises(ChartInputError, match="whole numbers"):
        counts(bad)


def test_no_count_makes_no_chart():
    with pytest.raises(TooFewValuesError):
        counts([None])
