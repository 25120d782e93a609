import math

import numpy as np
import pytest
from scipy.stats import ttest_ind, ttest_rel

from defectlog.charts import ChartInputError, TooFewValuesError, run_order, trial_size
from defectlog.charts.plan import pooled_spread, smallest_shown


def test_sizes_are_those_of_the_reference_documentation():
    # R, power.t.test(power = .90, delta = 1): n = 22.02110; the R library pwr for d = 0.5 and
    # power 0.80: 63.76561, and Cohen, Statistical Power Analysis, 2nd ed. 1988: 64.
    one = trial_size(1, 1, power=0.9)
    half = trial_size(0.5, 1)

    assert (one.exact, one.per_setting) == (pytest.approx(22.02110, abs=1e-4), 23)
    assert (half.exact, half.per_setting) == (pytest.approx(63.76561, abs=1e-4), 64)


def test_only_the_ratio_of_difference_and_spread_matters():
    assert trial_size(0.2, 0.4).per_setting == trial_size(1, 2).per_setting == 64


def test_even_a_glaring_difference_needs_two_panels_of_each():
    assert trial_size(1000, 1).per_setting == 2


@pytest.mark.parametrize("numbers", [(0, 1), (1, 0), (1e-9, 1)])
def test_what_no_trial_can_show_is_refused(numbers):
    with pytest.raises(ChartInputError):
        trial_size(*numbers)


def test_every_round_holds_every_setting_once():
    order = run_order(["none", "light", "heavy"], 4, random_state=7)

    assert len(order) == 12
    for start in range(0, 12, 3):
        assert sorted(order[start : start + 3]) == ["heavy", "light", "none"]


def test_the_same_start_gives_the_same_order_again():
    orders = {run_order(["a", "b", "c"], 5, random_state=start) for start in range(6)}

    assert run_order(["a", "b", "c"], 5, random_state=3) in orders
    assert len(orders) > 1


@pytest.mark.parametrize(("settings", "repeats"), [(["a"], 2), (["a", "a"], 2), (["a", "b"], 0)])
def test_nothing_to_put_in_order_is_refused(settings, repeats):
    with pytest.raises(ChartInputError):
        run_order(settings, repeats, random_state=1)


def test_in_blocks_the_size_is_that_of_the_paired_test():
    # The R library pwr, pwr.t.test(d = 0.5, power = 0.8, type = "paired"): n = 33.36713. Its d
    # is in spreads of the differences within a pair, which are √2 times those of the panels.
    paired = trial_size(0.5 * math.sqrt(2), 1, blocked=True)

    assert (paired.exact, paired.per_setting) == (pytest.approx(33.36713, abs=1e-4), 34)


@pytest.mark.parametrize("blocked", [False, True])
def test_what_a_trial_shows_is_the_difference_it_was_sized_for(blocked):
    # The printed sizes turned round: with n = 22.02110 of each, one spread shows at 90 %.
    seen = smallest_shown(23, 2, power=0.9, blocked=blocked)

    assert trial_size(seen, 2, power=0.9, blocked=blocked).exact == pytest.approx(23, abs=1e-6)
    if not blocked:
        assert 0.97 < seen / 2 < 1


def test_fewer_panels_show_only_a_larger_difference():
    seen = [smallest_shown(number, 1) for number in (2, 3, 4, 6, 12)]

    assert seen == sorted(seen, reverse=True)
    with pytest.raises(ChartInputError):
        smallest_shown(1, 1)


def test_spread_is_pooled_within_groups():
    # By hand: squares 2 about the mean of 1, 3 and 2 about that of 10, 11, 12; over 1 + 2.
    spread = pooled_spread([[1, 3], [10, 11, 12], [99]])

    assert (spread.freedom, spread.value) == (3, pytest.approx(math.sqrt(4 / 3)))
    # Chi-square with 3 degrees of freedom, 0.025 and 0.975: 0.216 and 9.348 in the NIST/SEMATECH
    # e-Handbook, table 1.3.6.7.4.
    assert spread.low == pytest.approx(math.sqrt(4 / 9.348), abs=1e-4)
    assert spread.high == pytest.approx(math.sqrt(4 / 0.216), rel=2.5e-3)


def test_single_values_say_nothing_of_spread():
    with pytest.raises(TooFewValuesError):
        pooled_spread([[1.0], [2.0]])


@pytest.mark.parametrize("blocked", [False, True])
def test_made_up_trials_show_the_difference_four_times_in_five(blocked):
    # By construction: 40 000 trials of three panels each, the second setting higher by what three
    # are said to show, judged by the t test of scipy. Four standard errors are 0.008.
    seen = smallest_shown(3, 1.0, blocked=blocked)
    values = np.random.default_rng(5).normal(size=(2, 3, 40_000))
    values[1] += seen
    test = ttest_rel if blocked else ttest_ind

    assert np.mean(test(values[1], values[0]).pvalue <= 0.05) == pytest.approx(0.8, abs=0.008)
    if not blocked:
        assert seen == pytest.approx(3.07, abs=0.005)


def test_a_difference_beyond_all_spread_takes_the_fewest_panels_there_are():
    assert trial_size(1e308, 1e-3).per_setting == 2
