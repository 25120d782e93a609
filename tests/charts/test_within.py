import math
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import t as student
from scipy.stats import ttest_ind

from defectlog.charts import (
    ChartInputError,
    TooFewValuesError,
    Turn,
    compare,
    compare_within,
    means_within,
)
from tests.charts.test_compare import CONTROL, TREATED


def test_of_one_group_it_is_the_comparison_of_two():
    found, plain = compare_within([(TREATED, CONTROL)]), compare(TREATED, CONTROL)

    assert found.means.difference == pytest.approx(plain.difference)
    assert (found.means.low, found.means.high) == pytest.approx((plain.low, plain.high))
    assert (found.p_value, found.splits, found.method) == (3184 / 11440, 11440, "every split")
    # 86.857 of 56.222 days: 608 / 7 and 506 / 9.
    assert found.means.ratio.value == pytest.approx(608 / 7 / (506 / 9))


def test_ends_of_the_ratio_are_where_the_t_test_of_it_turns():
    # E. C. Fieller 1954: r lies inside as long as mean a less r times mean b is not told from 0.
    # Found here by search, with the freedom of the difference as scipy gives it.
    a, b = [5.1, 4.8, 5.6, 5.3, 4.9], [2.9, 2.6, 3.2, 3.0, 2.4, 2.7]
    freedom = ttest_ind(a, b, equal_var=False).df
    mean_a, mean_b = sum(a) / 5, sum(b) / 6
    var_a = sum((v - mean_a) ** 2 for v in a) / 4 / 5
    var_b = sum((v - mean_b) ** 2 for v in b) / 5 / 6

    def inside(r):
        t = abs(mean_a - r * mean_b) / math.sqrt(var_a + r * r * var_b)
        return t - student.ppf(0.975, freedom)

    found = compare_within([(a, b)], turn=Turn.NONE).means.ratio

    assert found.low == pytest.approx(brentq(inside, 0.5, found.value))
    assert found.high == pytest.approx(brentq(inside, found.value, 5))


def test_the_ratio_leaves_out_one_just_where_the_difference_leaves_out_nothing():
    b = [2.9, 2.6, 3.2, 3.0, 2.4, 2.7]
    for step in range(-8, 9):
        found = compare_within([([value + 0.1 * step for value in b[:5]], b)])
        assert found.means.ratio.low is not None
        assert found.is_clear == (found.means.ratio.low > 1 or found.means.ratio.high < 1)


def test_parts_that_differ_do_not_pass_for_an_effect():
    # The second part is heavier by 100 and mostly made the second way; the way itself adds 1.
    first = ([10.0, 11, 12, 13, 14], [12.0, 13, 14])
    second = ([110.0, 112], [112.0, 113, 111, 112, 112])

    found = compare_within([first, second])

    # By hand: differences -1 and -1, whatever the weights.
    assert found.means.difference == pytest.approx(-1)
    mixed = compare(first[0] + second[0], first[1] + second[1]).difference
    assert mixed == pytest.approx(282 / 7 - 599 / 8)  # -34.6


def test_weights_and_interval_of_two_groups_by_hand():
    # Differences 2 and 5. Weights 2 * 2 / 4 = 1 and 2 * 6 / 8 = 1.5 of 2.5 in all.
    first, second = ([3.0, 5], [1.0, 3]), ([7.0, 9], [2.0, 4, 3, 2, 4, 3])

    found = compare_within([first, second], turn=Turn.NONE)

    assert found.means.difference == pytest.approx(0.4 * 2 + 0.6 * 5)
    # Variances of the means: 2 / 2, 2 / 2, 2 / 2 and 0.8 / 6, by the squares of the weights.
    shares = [0.16 * 1, 0.16 * 1, 0.36 * 1, 0.36 * 0.8 / 6]
    freedom = sum(shares) ** 2 / (
        shares[0] ** 2 + shares[1] ** 2 + shares[2] ** 2 + shares[3] ** 2 / 5
    )
    reach = student.ppf(0.975, freedom) * math.sqrt(sum(shares))
    assert found.means.high - found.means.difference == pytest.approx(reach)


def test_p_value_of_two_groups_comes_close_to_every_deal_inside_them():
    first, second = ([3.0, 5.5], [1.0, 3.2]), ([7.0, 9], [2.0, 4, 3.1])
    pools = [[*a, *b] for a, b in (first, second)]
    means = [sum(pool) / len(pool) for pool in pools]

    def sums(pool, mean):
        return [sum(c) - 2 * mean for c in combinations(pool, 2)]

    observed = sum(first[0]) + sum(second[0]) - 2 * sum(means)
    deals = [x + y for x in sums(pools[0], means[0]) for y in sums(pools[1], means[1])]
    exact = sum(abs(deal) >= abs(observed) - 1e-9 for deal in deals) / len(deals)

    found = compare_within([first, second])

    assert len(deals) == 60  # 6 of the first, 10 of the second
    assert found.p_value == pytest.approx(exact, rel=4 / math.sqrt(200))
    assert found.method == "random splits"
    assert found.splits <= 10_000


def test_a_group_with_one_of_a_setting_is_left_out():
    found = compare_within([([1.0, 2], [3.0, 4]), ([5.0], [6.0, 7]), ([], [1.0, 2])])

    assert found.means.used == (0,)
    with pytest.raises(TooFewValuesError, match="at least 2"):
        compare_within([([1.0], [3.0, 4])])
    with pytest.raises(TooFewValuesError):
        compare_within([])
    with pytest.raises(ChartInputError):
        compare_within([([1.0, float("nan")], [1.0, 2])])


def test_a_ratio_to_nothing_is_none_and_to_hardly_anything_has_no_ends():
    assert compare_within([([1.0, 2], [0.0, 0])]).means.ratio is None
    vague = compare_within([([1.0, 2], [-0.5, 0.9])]).means.ratio
    assert (vague.low, vague.high) == (None, None)


def test_all_equal_values_differ_by_nothing():
    found = compare_within([([2.0, 2], [2.0, 2])])

    assert (found.means.difference, found.means.low, found.means.high, found.p_value) == (
        0,
        0,
        0,
        1,
    )
    assert (found.means.ratio.low, found.means.ratio.high) == (1, 1)
    assert not found.is_clear


def test_without_spread_so_few_are_not_called_clear():
    # Two against two: one in three deals comes out as far.
    assert not compare_within([([2.0, 2], [1.0, 1])]).is_clear


def test_of_many_shops_19_in_20_intervals_hold_the_truth():
    # By construction: in both parts the first setting lies 2 lower, with half the spread. The
    # long version is benchmarks/honest_comparisons.py.
    random = np.random.default_rng(5)
    held = []
    for _ in range(1000):
        groups = [
            (random.normal(10 + level, 1, 5).tolist(), random.normal(12 + level, 2, 6).tolist())
            for level in (0, 3)
        ]
        means = means_within(groups)
        held.append(
            (
                means.low <= -2 <= means.high,
                means.ratio.low <= 11.5 / 13.5 <= means.ratio.high,
            )
        )

    for share in np.mean(held, axis=0):
        assert 0.93 <= share <= 0.97
