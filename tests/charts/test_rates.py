import pytest
from scipy.stats import nbinom, poisson

from defectlog.charts import ChartInputError, TooFewValuesError, probable_rates, rates
from defectlog.charts.dispersion import excess_variance

# D. C. Montgomery, Introduction to Statistical Quality Control, ch. 7, dyed cloth: defects and
# inspection units, as the open R library qcc carries them. Totals 153 and 107.5.
DEFECTS = [14, 12, 20, 11, 7, 10, 21, 16, 19, 23]
UNITS = [10, 8, 13, 10, 9.5, 10, 12, 10.5, 12, 12.5]


def test_centre_uses_fractional_units_as_they_are():
    # Rounding 9.5, 10.5 and 12.5 would give 1.4037.
    assert rates(DEFECTS, UNITS, overdispersed=False).centre == pytest.approx(153 / 107.5)


def test_limits_follow_the_units_of_each_roll():
    # u-bar ± 3 sqrt(u-bar / n) by hand, for n = 10, 8, 13 and 9.5.
    chart = rates(DEFECTS, UNITS, overdispersed=False)

    assert chart.lower[:3] == pytest.approx([0.2915, 0.1579, 0.4306], abs=1e-4)
    assert chart.upper[:3] == pytest.approx([2.5550, 2.6886, 2.4159], abs=1e-4)
    assert chart.limits_at(4) == pytest.approx((0.2621, 2.5844), abs=1e-4)
    assert chart.signals == ()


def test_values_are_counts_over_sizes():
    assert rates([3, None, 1], [2, 5, 4], overdispersed=False).values == (1.5, None, 0.25)


def test_one_size_for_all_gives_one_limit_for_all():
    # Mean 4 per 2 units: u-bar 2, limits 2 ± 3 sqrt(2 / 2).
    chart = rates([4, 4, 4], 2, overdispersed=False)

    assert (chart.centre, chart.lower, chart.upper) == (2, 0, 5)
    assert rates([4, 4, 4], [2, 2, 2], overdispersed=False).upper == 5


def test_overdispersed_limits_are_widened_by_the_excess_spread():
    # All on size 1, mean 16, chance sigma 4: z = -2, 2, -2, 2, steps of 4, so w = 4 / 1.128
    # and the upper limit is 16 + 3 * w * 4 (Laney, Quality Engineering 14(4), 2002).
    chart = rates([8, 24, 8, 24], 1)

    assert chart.upper == pytest.approx(16 + 3 * 4 / 1.128 * 4)
    assert chart.lower == 0
    assert rates([8, 24, 8, 24], 1, overdispersed=False).upper == 28


def test_overdispersed_is_the_default():
    assert rates(DEFECTS, UNITS) == rates(DEFECTS, UNITS, overdispersed=True)


def test_no_pinhole_on_any_build_is_a_chart_without_signals():
    chart = rates([0, 0, 0], [10, 12, 9])

    assert (chart.centre, chart.upper, chart.signals) == (0, 0, ())


@pytest.mark.parametrize(
    ("counts", "sizes", "words"),
    [([1, 2], [1], "one size for each"), ([1], [0], "above 0"), ([-1], [1], "whole numbers")],
)
def test_what_makes_no_rate_is_refused(counts, sizes, words):
    with pytest.raises(ChartInputError, match=words):
        rates(counts, sizes)


def test_excess_spread_needs_two_neighbours():
    with pytest.raises(TooFewValuesError):
        rates([3, None, 4], 1)
    assert rates([3, None, 4], 1, overdispersed=False).centre == 3.5


def test_the_excess_variance_of_counts_is_chi_square_over_freedom() -> None:
    # By hand: 1, 5, 3 about 3: (4 + 4 + 0)/3 = 8/3; 0, 4 about 2: (4 + 4)/2 = 4.
    # (8/3 + 4)/(2 + 1) = 20/9. Groups of one, or of nothing, say nothing.
    assert excess_variance([[1, 5, 3], [0, 4], [7], [], [0, 0]]) == pytest.approx(20 / 9)


def test_counts_closer_together_than_chance_are_no_reason_to_be_surer() -> None:
    assert excess_variance([[4, 4, 4, 4]]) == 1.0
    assert excess_variance([[3]]) == 1.0


def test_limits_of_few_counts_leave_as_little_beyond_them_as_three_sigma() -> None:
    # By definition: 0.00135 or less above the limit, more above the count before it. Counts of
    # 2 to 4 differ less than chance has them, so the Poisson distribution holds, mean 18 / 6.
    chart = probable_rates([2, 3, 4, 3, 2, 4], 1)

    assert poisson.sf(chart.upper, 3) <= 0.00135 < poisson.sf(chart.upper - 1, 3)
    assert chart.upper == 9 > rates([2, 3, 4, 3, 2, 4], 1).upper


def test_limits_of_clustered_counts_are_those_of_the_negative_binomial() -> None:
    # Mean 16, chance sigma 4; steps of 16 are 4 of them, so the excess is (4 / 1.128)^2 = 12.575.
    chart = probable_rates([8, 24, 8, 24], 1)
    excess = (4 / 1.128) ** 2
    of = nbinom(16 / (excess - 1), 1 / excess)

    assert of.var() == pytest.approx(16 * excess)
    assert of.sf(chart.upper) <= 0.00135 < of.sf(chart.upper - 1)
    assert chart.lower == 0
