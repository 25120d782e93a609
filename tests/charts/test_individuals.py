import pytest

from defectlog.charts import (
    ChartInputError,
    TooFewValuesError,
    individuals,
    moving_range_chart,
    moving_ranges,
)
from defectlog.errors import DefectlogError

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 Individuals Control Charts: ten
# flow rates, and the centre and limits printed under them.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_limits_are_those_nist_prints():
    chart = individuals(FLOW_RATES)

    assert chart.centre == pytest.approx(50.81, abs=1e-9)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == ()


def test_limits_rest_on_d2_rounded_as_printed_and_not_on_the_standard_deviation():
    # 50.81 + 3 * 1.877778 / 1.128 by hand; three sample deviations of 2.0339 would give 56.91.
    assert individuals(FLOW_RATES).upper == pytest.approx(50.81 + 3 * (16.9 / 9) / 1.128, abs=1e-9)


def test_the_first_value_has_no_moving_range():
    ranges = moving_ranges(FLOW_RATES)

    assert ranges[0] is None
    assert ranges[1:] == pytest.approx([2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])


def test_moving_range_chart_has_the_upper_limit_of_ranges_of_two():
    # Mean range 16.9 / 9, times D4 = 3.267 for n = 2 (NIST/SEMATECH e-Handbook 6.3.2.1).
    chart = moving_range_chart(FLOW_RATES)

    assert chart.centre == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(6.1347, abs=1e-6)
    assert chart.lower == 0
    assert chart.values[0] is None
    assert chart.signals == ()


def test_the_moving_ranges_of_a_baseline_set_the_limits_of_all():
    # Steps 1 and 3 among the first three: mean 2; the step to 100 is judged by it.
    chart = moving_range_chart([0.0, 1.0, 4.0, 100.0], baseline=[0, 1, 2])

    assert chart.centre == pytest.approx(2)
    assert [signal.index for signal in chart.signals] == [3]


def test_no_moving_range_reaches_across_a_missing_build():
    # Steps 1 and 2 remain: the mean range is 1.5, the 96 from 3 to 99 does not count.
    chart = individuals([2.0, 3.0, None, 99.0, 101.0])

    assert chart.sigma == pytest.approx(1.5 / 1.128)
    assert chart.values == (2.0, 3.0, None, 99.0, 101.0)
    assert chart.centre == pytest.approx(205 / 4)


def test_a_point_on_the_limit_is_inside_and_a_point_past_it_is_out():
    # Baseline 0, 1.128, 0, 1.128: mean 0.564, sigma 1, limits -2.436 and 3.564.
    base = [0.0, 1.128, 0.0, 1.128]

    on_it = individuals([*base, 3.564, -2.436], baseline=range(4))
    past_it = individuals([*base, 3.5641, -2.4361], baseline=range(4))

    assert on_it.signals == ()
    assert [(signal.index, signal.rule) for signal in past_it.signals] == [
        (4, "limit"),
        (5, "limit"),
    ]
    assert "above the upper limit" in past_it.signals[0].words
    assert past_it.is_outside(4) and not past_it.is_outside(0)


def test_values_that_do_not_vary_raise_no_signal_by_rounding():
    assert individuals([0.1] * 3).signals == ()


def test_a_lower_limit_below_the_floor_is_drawn_at_the_floor_and_said_so():
    # Mean 1, mean range 2: the lower limit would be 1 - 3 * 2 / 1.128 = -4.3.
    chart = individuals([0.0, 2.0, 0.0, 2.0], lowest=0)

    assert chart.lower == 0
    assert chart.upper == pytest.approx(1 + 6 / 1.128)
    assert "smallest value there can be" in chart.notes[0]
    assert individuals(FLOW_RATES, lowest=0).notes == ()


def test_run_rules_speak_only_when_asked():
    # Eight values on 11 after eight around 9: the mean is above 9 and below 11.
    values = [9.0, 9.2, 9.0, 9.2, 9.0, 9.2, 9.0, 9.2, *[11.0, 11.2] * 4]

    assert "eight-in-a-row" not in {signal.rule for signal in individuals(values).signals}
    assert "eight-in-a-row" in {
        signal.rule for signal in individuals(values, run_rules=True).signals
    }


@pytest.mark.parametrize("values", [[], [1.0], [1.0, None, 2.0], [None, None]])
def test_limits_need_two_neighbours(values):
    with pytest.raises(TooFewValuesError, match="at least 2"):
        individuals(values)


def test_a_value_that_is_no_number_is_refused_with_advice():
    with pytest.raises(ChartInputError, match="None where there is none") as caught:
        individuals([1.0, float("nan"), 2.0])

    assert isinstance(caught.value, DefectlogError)


def test_a_baseline_outside_the_values_is_refused():
    with pytest.raises(ChartInputError, match="baseline"):
        individuals([1.0, 2.0], baseline=[0, 2])
