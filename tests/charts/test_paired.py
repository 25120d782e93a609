import math

import pytest

from defectlog.charts import paired_interval

# Student, "The probable error of a mean", Biometrika 6 (1908), table on p. 20: additional hours of
# sleep of ten patients under two drugs.
HYOSCYAMINE = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
HYOSCINE = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_students_sleep_data_give_the_interval_printed_for_them():
    # The paired t test in the documentation of R (stats::t.test, example on datasets::sleep):
    # 95 percent confidence interval -2.4598858 -0.7001142; from memory.
    found = paired_interval(HYOSCYAMINE, HYOSCINE)

    assert found == pytest.approx((-2.4598858, -0.7001142), abs=5e-7)


def test_the_larger_of_two_settings_widens_it_by_hand():
    # Means 4 and 1, variances 8 and 0: squared variation 8 / 16 = 0.5; (4 - 1) / (4 + 1) = 0.6;
    # 2 / (2 - 1) = 2; so 1 + 3 x 0.5 x 0.6 x 2 = 2.8. Differences 1 and 5: 3, variance 8 / 2.
    reach = 12.7062 * math.sqrt(4 * 2.8)

    assert paired_interval([2, 6], [1, 1]) == pytest.approx((3 - reach, 3 + reach), abs=2e-3)


def test_alike_settings_keep_students_t():
    # Differences 1, -1, 0: mean 0, s = 1; t(0.975, 2) = 4.30265, over the root of 3.
    reach = 4.30265 / math.sqrt(3)

    assert paired_interval([3, 1, 2], [2, 2, 2]) == pytest.approx((-reach, reach), abs=1e-4)


def test_one_pair_says_nothing():
    assert paired_interval([1.0], [2.0]) is None


def test_days_that_are_all_nothing_are_apart_by_nothing():
    assert paired_interval([0, 0, 0], [0, 0, 0]) == (0, 0)
