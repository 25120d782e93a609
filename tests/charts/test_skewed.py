import math

import pytest

from defectlog.charts import (
    ChartInputError,
    Turn,
    choose_turn,
    ewma,
    ewma_turned,
    individuals,
    individuals_turned,
    steps_turned,
)

# NIST/SEMATECH e-Handbook, 6.3.2.2: flow rates, and the limits printed under them.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_limits_of_logarithms_turned_back_are_those_nist_prints():
    # The data are e to the power of a tenth of the flow rate, so their logarithms are known.
    chart = individuals_turned([math.exp(rate / 10) for rate in FLOW_RATES], Turn.LOG)

    assert 10 * math.log(chart.centre) == pytest.approx(50.81, abs=5e-3)
    assert 10 * math.log(chart.upper) == pytest.approx(55.8041, abs=5e-5)
    assert 10 * math.log(chart.lower) == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == ()


def test_limits_of_roots_turned_back_are_those_nist_prints():
    chart = individuals_turned([rate**2 for rate in FLOW_RATES], Turn.ROOT)

    assert math.sqrt(chart.upper) == pytest.approx(55.8041, abs=5e-5)
    assert math.sqrt(chart.lower) == pytest.approx(45.8159, abs=5e-5)


def test_a_lower_limit_of_roots_below_zero_is_zero():
    # Roots 0, 1, 0, 1: mean 0.5, mean range 1, lower limit 0.5 - 3 / 1.128 below 0.
    assert individuals_turned([0, 1, 0, 1], Turn.ROOT).lower == 0


def test_values_far_from_zero_are_left_as_they_are():
    assert choose_turn([FLOW_RATES]) is Turn.NONE
    assert individuals_turned(FLOW_RATES, Turn.NONE) == individuals(FLOW_RATES)


def test_values_crowding_at_zero_are_turned_and_zeros_take_the_root():
    # Mean 2, mean range 2: the lower limit of the values as they are is 2 - 5.3, below 0.
    assert choose_turn([[1, 3, 1, 3, 1, 3]]) is Turn.LOG
    assert choose_turn([[0, 3, 1, 3, 1, 3]]) is Turn.ROOT
    assert choose_turn([[0.01, 3, 1, 3, 1, 3]]) is Turn.ROOT


def test_all_zeros_and_single_values_need_no_turn():
    assert choose_turn([[0, 0, 0, 0, 0]]) is Turn.NONE
    assert choose_turn([[5], [], [None, 1, None]]) is Turn.NONE


def test_a_value_below_zero_is_refused():
    with pytest.raises(ChartInputError, match="without a floor"):
        choose_turn([[1, -1]])
    with pytest.raises(ChartInputError, match="another scale"):
        individuals_turned([0, 1, 2], Turn.LOG)


def test_run_rules_look_at_the_turned_scale():
    # About 1.5 by turns, the eighth above it, then nine more above: from the fifteenth on there
    # are eight in a row.
    values = [math.exp(v) for v in [1, 2, 1, 2, 1, 2, 1, 2] + [1.8] * 9]

    chart = individuals_turned(values, Turn.LOG, baseline=range(8), run_rules=True)

    assert [s.index for s in chart.signals if s.rule == "eight-in-a-row"] == [14, 15, 16]


def test_the_moving_average_is_that_of_the_turned_values():
    values = [math.exp(rate / 10) for rate in FLOW_RATES]
    of = individuals_turned(values, Turn.LOG)
    plain = ewma(
        [rate / 10 for rate in FLOW_RATES],
        target=math.log(of.centre),
        sigma=of.sigma,
        from_first=True,
    )

    chart = ewma_turned(values, Turn.LOG, of)

    assert [math.log(v) for v in chart.values] == pytest.approx(plain.values)
    assert [math.log(v) for v in chart.upper] == pytest.approx(plain.upper)


def test_equal_values_have_no_moving_average_to_judge_by():
    same = individuals_turned([2.0, 2.0, 2.0], Turn.NONE)

    assert ewma_turned([2.0, 2.0, 2.0], Turn.NONE, same) is None


def test_a_value_that_sets_no_limits_still_has_to_find_a_place_on_the_scale():
    skewed = [10.0, 40.0, 12.0, 35.0, 11.0, 50.0]

    assert choose_turn([skewed]) is Turn.LOG
    assert choose_turn([skewed], [*skewed, 0.0]) is Turn.ROOT


def test_steps_of_logarithms_are_the_ratios_of_neighbours():
    # Each value is twice or half the one before.
    chart = steps_turned([1.0, 2.0, 4.0, 2.0], Turn.LOG)

    assert math.exp(chart.centre) == pytest.approx(2)
    assert chart.values[0] is None
    assert chart.signals == ()


def test_a_lower_limit_in_the_lowest_third_of_the_centre_is_too_near_the_floor():
    # Mean 10, mean range 2 and 3: lower limits 10 - 5.32 = 4.68 and 10 - 7.98 = 2.02, a third
    # of the centre is 3.33.
    assert choose_turn([[9, 11, 9, 11, 9, 11]]) is Turn.NONE
    assert choose_turn([[8.5, 11.5, 8.5, 11.5]]) is Turn.LOG
