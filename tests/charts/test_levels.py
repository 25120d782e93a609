import math

import numpy as np
import pytest
from scipy.stats import t as student

from defectlog.charts import Turn, compare, compare_within, mean_interval_of

BEFORE, AFTER = [2.0, 2.9, 1.6, 2.3, 3.4], [0.6, 0.4, 0.9, 0.7]


def log_parts(values):
    """Log of the mean, its variance by hand, and how many values less one."""
    taken = np.array(values)
    own, number = taken.mean(), taken.size
    squared = taken.var(ddof=1) / own**2
    return (
        math.log(own),
        squared / number * (1 + 0.75 * squared * number / (number - 1)),
        number - 1,
    )


def test_the_ratio_of_skewed_values_is_welchs_t_on_the_logarithms_of_their_means():
    (a, var_a, df_a), (b, var_b, df_b) = log_parts(BEFORE), log_parts(AFTER)
    freedom = (var_a + var_b) ** 2 / (var_a**2 / df_a + var_b**2 / df_b)
    reach = student.ppf(0.975, freedom) * math.sqrt(var_a + var_b)

    ratio = compare_within([(BEFORE, AFTER)]).means.ratio

    assert ratio.value == pytest.approx(2.44 / 0.65)
    assert (ratio.low, ratio.high) == pytest.approx(
        (math.exp(a - b - reach), math.exp(a - b + reach))
    )


@pytest.mark.parametrize("upper", [True, False])
def test_the_difference_ends_where_the_nearest_pair_of_means_is_ruled_out(upper):
    # By search: for each difference the pair of means that errs least, and its t.
    (a, var_a, df_a), (b, var_b, df_b) = log_parts(BEFORE), log_parts(AFTER)

    def is_inside(difference):
        second = np.exp(np.linspace(b - 8 * math.sqrt(var_b), b + 8 * math.sqrt(var_b), 40_001))
        second = second[second + difference > 0]
        own = (np.log(second + difference) - a) ** 2 / var_a
        other = (np.log(second) - b) ** 2 / var_b
        best = np.argmin(own + other)
        total = own[best] + other[best]
        freedom = total**2 / (own[best] ** 2 / df_a + other[best] ** 2 / df_b)
        return math.sqrt(total) <= student.ppf(0.975, freedom)

    found = compare(BEFORE, AFTER)
    end = found.high if upper else found.low

    assert is_inside(end - 0.002 * (1 if upper else -1))
    assert not is_inside(end + 0.002 * (1 if upper else -1))


def test_difference_and_ratio_never_tell_two_stories():
    rng = np.random.default_rng(2)
    for _ in range(300):
        a, b = (rng.lognormal(m, 0.5, n).tolist() for m, n in ((0.5, 5), (0.0, 7)))
        means = compare_within([(a, b)]).means
        assert (means.low > 0) == (means.ratio.low > 1)
        assert (means.high < 0) == (means.ratio.high < 1)


def test_with_a_zero_among_the_values_roots_are_taken():
    found = compare_within([([0.0, 2.0, 1.0, 3.0], [4.0, 6.0, 5.0, 9.0])])

    assert found.means.turn is Turn.ROOT
    assert found.means.low < found.means.difference < found.means.high


def test_a_side_of_zeros_and_values_below_zero_are_compared_as_they_are():
    assert compare([0.0, 0.0, 0.0], [1.0, 2.0, 3.0]).low < -2 < 0
    assert compare([-1.0, 2.0, 1.0], [1.0, 2.0, 3.0]).turn is Turn.NONE


def test_the_mean_of_skewed_values_has_more_room_above():
    low, high = mean_interval_of(BEFORE)

    assert high - 2.44 > 2.44 - low > 0
    assert mean_interval_of([2.0]) is None
    assert mean_interval_of([0.0, 0.0]) == (0, 0)
    assert mean_interval_of([2.0, 2.0]) == (2, 2)


def test_interval_of_a_mean_uses_t_of_its_values():
    # Ten fields of a point count, mean 4.3, s 1.11056; t(0.975, 9) = 2.262 (NIST/SEMATECH
    # e-Handbook, table 1.3.6.7.2): 2.262 x 1.11056 / sqrt(10) = 0.7944.
    fields = [5, 3.5, 4, 6, 2.5, 5, 4.5, 3, 4, 5.5]

    assert mean_interval_of(fields, turn=Turn.NONE) == pytest.approx(
        (4.3 - 0.7944, 4.3 + 0.7944), abs=5e-4
    )
    assert mean_interval_of([4.3]) is None
