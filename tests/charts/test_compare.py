import math

import pytest
from scipy.stats import ttest_ind

from defectlog.charts import ChartInputError, TooFewValuesError, Turn, compare

# B. Efron and R. J. Tibshirani, An Introduction to the Bootstrap, 1993, Table 2.1: survival of
# mice. Difference printed as 30.63; 3184 of the 11 440 splits are at least as far apart
# (enumerated independently, also with the R library coin).
TREATED = [94, 197, 16, 38, 99, 141, 23]
CONTROL = [52, 104, 146, 10, 51, 30, 40, 27, 46]


def test_difference_is_the_one_printed_for_the_mice():
    assert compare(TREATED, CONTROL).difference == pytest.approx(30.63, abs=5e-3)


def test_p_value_is_the_share_of_all_splits():
    found = compare(TREATED, CONTROL)

    assert found.p_value == pytest.approx(3184 / 11440, abs=1e-12)
    assert (found.splits, found.method) == (11440, "every split")
    assert not found.is_clear


def test_the_other_way_round_only_the_sign_changes():
    there, back = compare(TREATED, CONTROL), compare(CONTROL, TREATED)

    assert back.difference == -there.difference
    assert (back.low, back.high) == pytest.approx((-there.high, -there.low))
    assert back.p_value == there.p_value


def test_without_a_floor_the_interval_is_welchs():
    # Reference: scipy.stats.ttest_ind without equal variances.
    expected = ttest_ind(TREATED, CONTROL, equal_var=False).confidence_interval(0.95)

    found = compare(TREATED, CONTROL, turn=Turn.NONE)

    assert (found.low, found.high) == pytest.approx((expected.low, expected.high))


def test_smallest_p_value_by_hand():
    # 1, 2 against 8, 9: of the 6 splits only this one and its mirror are as far apart.
    assert compare([1, 2], [8, 9]).p_value == pytest.approx(2 / 6)


def test_splits_that_tie_by_rounding_count():
    # 0.1 + 0.2 is not 0.3 in binary; by hand, with sums 0.3 against 0.7, the two-sided splits of
    # 0.1 0.2 | 0.3 0.4 as far apart are {0.1, 0.2} and {0.3, 0.4}.
    assert compare([0.2, 0.1], [0.3, 0.4]).p_value == pytest.approx(2 / 6)
    assert compare([0.1, 0.1], [0.1, 0.1]).p_value == 1


def test_up_to_two_hundred_thousand_splits_every_one_is_looked_at():
    # 20 choose 10 is 184 756, 21 choose 10 is 352 716.
    ten = [float(number) for number in range(10)]

    assert compare(ten, ten).method == "every split"
    assert compare(ten, ten).splits == math.comb(20, 10)
    assert compare([*ten, 10.0], ten).method == "random splits"


def test_random_splits_come_close_to_all_of_them_and_stay_the_same():
    # Two groups of 12 from which all 2 704 156 splits were too many to go through: judged by the
    # t test of equal variances, to which the permutation test tends.
    first = [5.1, 4.8, 5.6, 5.3, 4.9, 5.2, 5.0, 5.5, 4.7, 5.4, 5.1, 5.0]
    second = [4.9, 4.6, 5.2, 5.0, 5.1, 4.8, 4.7, 5.3, 4.9, 5.0, 4.5, 5.1]
    expected = ttest_ind(first, second).pvalue

    found = compare(first, second)

    # Four standard errors of 20 000 draws, and as much for the difference of the two tests.
    assert found.p_value == pytest.approx(expected, abs=8 * math.sqrt(expected / 20_000))
    assert found.p_value == compare(first, second).p_value
    assert found.p_value >= 1 / 20_001


def test_share_of_pairs_counts_ties_half():
    # NIST/SEMATECH e-Handbook 7.3.5, wafer particles: U = 40 of 121 pairs.
    a = [0.55, 0.67, 0.43, 0.51, 0.48, 0.60, 0.71, 0.53, 0.44, 0.65, 0.75]
    b = [0.49, 0.68, 0.59, 0.72, 0.67, 0.75, 0.65, 0.77, 0.62, 0.48, 0.59]

    assert compare(a, b).first_larger == pytest.approx(40 / 121)


def test_groups_without_spread_give_an_interval_without_width():
    found = compare([2.0, 2.0], [1.0, 1.0])

    assert (found.difference, found.low, found.high) == (1, 1, 1)


def test_one_value_is_no_group():
    with pytest.raises(TooFewValuesError, match="at least 2"):
        compare([1.0], [2.0, 3.0])


def test_a_missing_value_is_refused():
    with pytest.raises(ChartInputError, match="leave it out"):
        compare([1.0, None], [2.0, 3.0])
