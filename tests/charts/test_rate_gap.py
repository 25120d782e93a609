import math

import numpy as np
import pytest

from defectlog.charts import ChartInputError, TooFewValuesError, compare, trial_size
from defectlog.charts.plan import rate_spread, smallest_rate_shown
from defectlog.charts.rate_gap import Counted, excess_of, rate_gap


def test_the_rate_is_all_that_was_counted_over_all_it_was_counted_on():
    assert Counted([2, 10], [1, 4]).rate == pytest.approx(12 / 5)


def test_the_excess_is_pearsons_chi_square_over_its_freedom():
    # Rate 12 / 6 = 2, expected 2, 4, 6: (0 − 2)²/2 + (8 − 4)²/4 + (4 − 6)²/6 = 2 + 4 + 2/3.
    # Chi-square at 2 degrees of freedom: 0.0506 and 7.378 (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    found = excess_of([Counted([0, 8, 4], [1, 2, 3])])

    assert (found.value, found.freedom) == (pytest.approx((6 + 2 / 3) / 2), 2)
    assert found.low == 1.0
    assert found.high == pytest.approx((6 + 2 / 3) / 0.0506, rel=2e-3)


def test_counts_closer_together_than_chance_make_nobody_surer():
    assert excess_of([Counted([5, 5, 5], [1, 1, 1])]).value == 1.0
    assert excess_of([Counted([0, 0, 0], [1, 1, 1])]).freedom == 0


def test_the_interval_is_the_sum_shown():
    # Rates 12/2 and 4/2, no excess, z = 1.96 (NIST/SEMATECH e-Handbook, 1.3.6.7.1), its square
    # 3.8415. Score limits of 12: 12 + 1.9207 ± √(3.8415 · (12 + 0.9604)) = 6.865 and 20.977; of 4:
    # 4 + 1.9207 ± √(3.8415 · (4 + 0.9604)) = 1.556 and 10.286. In rates by half.
    # Difference 4: low 4 − √((6 − 3.4324)² + (5.143 − 2)²), high 4 + √(4.4884² + 1.2222²).
    found = rate_gap(Counted([6, 6], [1, 1]), Counted([2, 2], [1, 1]))

    assert found.difference == pytest.approx(4)
    assert found.low == pytest.approx(4 - math.hypot(2.5676, 3.143), abs=5e-3)
    assert found.high == pytest.approx(4 + math.hypot(4.4884, 1.2222), abs=5e-3)


def test_an_excess_is_unsure_and_makes_room_as_t_does():
    # 1 and 7, mean 4: (9 + 9) / 4 = 4.5 from either, so 9 over 2 degrees of freedom; t(0.975, 2) =
    # 4.303, its square 18.516, times 4.5 is 83.32. Score limits of 8: 8 + 41.66 ± √(83.32 (8 +
    # 20.83)) = 49.66 ± 49.01 = 0.65 and 98.67, by half 0.32 and 49.34; 4 − 0.32, 49.34 − 4: 45.5.
    alike = Counted([1, 7], [1, 1])

    found = rate_gap(alike, alike)

    assert found.excess.value == pytest.approx(4.5)
    assert (found.low, found.high) == pytest.approx((-45.48, 45.48), abs=0.05)


def test_on_equal_areas_chance_is_that_of_the_permutation_test():
    a, b = [4, 7, 6, 9], [3, 2, 5, 1]

    found = rate_gap(Counted(a, [2.0] * 4), Counted(b, [2.0] * 4))

    assert found.p_value == pytest.approx(compare(a, b).p_value)
    assert (found.splits, found.method) == (70, "every split")


def test_a_larger_panel_with_as_many_more_pinholes_is_no_difference():
    found = rate_gap(Counted([10, 20], [1, 2]), Counted([30, 40], [3, 4]))

    assert found.difference == 0
    assert found.low < 0 < found.high
    assert found.p_value == 1.0


def test_nothing_counted_at_all_still_has_an_interval():
    found = rate_gap(Counted([0, 0, 0], [4, 4, 4]), Counted([0, 0, 0], [4, 4, 4]))

    assert (found.difference, found.p_value) == (0, 1.0)
    assert found.low == pytest.approx(-found.high)
    assert found.high > 0


@pytest.mark.parametrize(
    ("a", "error"),
    [
        (Counted([1], [1]), TooFewValuesError),
        (Counted([1, 1.5], [1, 1]), ChartInputError),
        (Counted([1, -1], [1, 1]), ChartInputError),
        (Counted([1, 1], [1, 0]), ChartInputError),
    ],
)
def test_what_is_no_count_on_a_size_is_refused(a, error):
    with pytest.raises(error):
        rate_gap(a, Counted([1, 2], [1, 1]))


def test_the_size_for_counts_is_near_the_published_rule():
    # G. van Belle, Statistical Rules of Thumb, 2nd ed. 2008, 2.7: 4 / (√30 − √36)² = 14.5 of each
    # for means of 30 and 36, by the bell curve; t needs about one more.
    size = trial_size(6, rate_spread(30, 6, size=1))

    assert size.exact == pytest.approx(4 / (math.sqrt(30) - math.sqrt(36)) ** 2 + 1, abs=0.5)


def test_four_times_the_area_needs_as_much_less_as_a_quarter_of_the_excess():
    assert rate_spread(2, 1, size=4) == pytest.approx(rate_spread(2, 1, size=1) / 2)
    assert rate_spread(2, 1, size=4, excess=4) == pytest.approx(rate_spread(2, 1, size=1))


@pytest.mark.parametrize("blocked", [False, True])
def test_what_counts_show_is_the_difference_they_were_sized_for(blocked):
    seen = smallest_rate_shown(9, 2, size=4, excess=2.5, blocked=blocked)
    spread = rate_spread(2, seen, size=4, excess=2.5)

    assert trial_size(seen, spread, blocked=blocked).exact == pytest.approx(9, abs=1e-6)


def test_a_size_out_of_range_is_refused():
    with pytest.raises(ChartInputError):
        rate_spread(-1, 1, size=1)
    with pytest.raises(ChartInputError):
        smallest_rate_shown(4, 1, size=0)


def test_clustered_counts_neither_alarm_nor_hide_the_difference_planned_for():
    # 2 and 4 pinholes per dm² on 4 dm² each, gamma-mixed to 2.5 times the variance of chance: the
    # size is for 80 % power at 5 % false alarms. 300 trials leave 2.3 points of standard error.
    random = np.random.default_rng(5)
    number = trial_size(2, rate_spread(2, 2, size=4, excess=2.5)).per_setting

    def panels(rate: float) -> Counted:
        mixed = random.gamma(rate * 4 / 1.5, 1.5, number)
        return Counted(random.poisson(mixed).tolist(), [4.0] * number)

    same = [rate_gap(panels(2), panels(2)) for _ in range(300)]
    apart = [rate_gap(panels(2), panels(4)) for _ in range(300)]

    assert sum(one.low > 0 or one.high < 0 for one in same) <= 300 * 0.09
    assert sum(one.high < 0 for one in apart) >= 300 * 0.73
    assert sum(one.low <= -2 <= one.high for one in apart) >= 300 * 0.91
