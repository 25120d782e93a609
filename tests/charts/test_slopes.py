from itertools import combinations

import numpy as np
import pytest
from scipy.stats import theilslopes

from defectlog.charts import middle_slope

# M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods, Table 4.1: permeability of a
# membrane to water at term and between 12 and 26 weeks. The shift is printed as 0.305; the
# documentation of wilcox.test in R, which runs them too, gives the 95 % interval -0.15 to 0.76.
AT_TERM = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
EARLIER = [1.15, 0.88, 0.90, 0.74, 1.21]


def shift(first, second, **more):
    """From the first to the second."""
    return middle_slope([0] * len(first) + [1] * len(second), [*first, *second], **more)


def test_of_two_settings_it_is_the_shift_hollander_and_wolfe_print():
    found = shift(EARLIER, AT_TERM)

    assert found.value == pytest.approx(0.305)
    assert (found.low, found.high) == pytest.approx((-0.15, 0.76))
    assert found.pairs == 50


def test_with_ties_the_shift_is_the_one_worked_out_for_the_wafers():
    # NIST/SEMATECH e-Handbook 7.3.5, wafer particles; median of the 121 differences is -0.06.
    a = [0.55, 0.67, 0.43, 0.51, 0.48, 0.60, 0.71, 0.53, 0.44, 0.65, 0.75]
    b = [0.49, 0.68, 0.59, 0.72, 0.67, 0.75, 0.65, 0.77, 0.62, 0.48, 0.59]

    assert shift(b, a).value == pytest.approx(-0.06)


def test_of_numbers_it_is_theil_and_sens_as_scipy_has_it():
    random = np.random.default_rng(5)
    x = random.integers(0, 12, 40).astype(float)
    y = 0.3 * x + random.standard_t(2, 40)
    expected = theilslopes(y, x)

    found = middle_slope(x, y)

    assert (found.value, found.low, found.high) == pytest.approx(
        (expected.slope, expected.low_slope, expected.high_slope)
    )


def test_only_pairs_of_one_group_are_compared():
    # In both groups y rises by 2 a step; the second lies 100 lower and further along.
    x, y = [1, 2, 3, 11, 12, 13], [2, 4, 6, -78, -76, -74]

    assert middle_slope(x, y, strata=[0, 0, 0, 1, 1, 1]).value == pytest.approx(2)
    assert middle_slope(x, y).value < 0


def test_where_nothing_varied_there_is_no_slope():
    assert middle_slope([1, 1, 1], [1, 2, 3]) is None
    assert middle_slope([], []) is None
    assert middle_slope([0, 1], [1, 2], strata=[0, 1]) is None


def test_all_equal_results_have_a_slope_of_nothing():
    found = middle_slope([1, 2, 3, 4], [5, 5, 5, 5])

    assert (found.value, found.low, found.high) == (0, 0, 0)


@pytest.mark.parametrize(("small", "large"), [(4, 6), (5, 5), (4, 9)])
def test_of_all_splits_without_a_shift_19_in_20_intervals_hold_nothing(small, large):
    # Truth by construction: every split of the same values is as likely, the shift is 0.
    values = np.cumsum(np.random.default_rng(8).random(small + large))
    covered = []
    for chosen in combinations(range(small + large), small):
        found = shift(values[list(chosen)], np.delete(values, chosen))
        covered.append(found.low <= 0 <= found.high)

    # So few pairs leave no interval between the one below 95 % and this one.
    assert 0.93 <= np.mean(covered) <= 0.98


@pytest.mark.parametrize(("small", "large"), [(4, 12), (5, 8), (20, 30)])
def test_settings_that_spread_differently_have_intervals_that_hold_the_shift(small, large):
    # Truth by construction: both are symmetric about their middles, 0 and 1. Told by Kendall's
    # variance alone the interval holds the shift in 90 % of the first two.
    random = np.random.default_rng(11)
    held = []
    for _ in range(500):
        found = shift(random.normal(0, 1.0, small), random.normal(1, 0.3, large))
        held.append(found.low <= 1 <= found.high)

    assert 0.925 <= np.mean(held) <= 0.98
