import math

import pytest
from scipy.stats import binomtest, poisson

from defectlog.charts import (
    ChartInputError,
    exact_share,
    poisson_limits,
    rate_ratio,
    wilson,
)


def test_wilson_bound_is_the_one_nist_prints():
    # NIST/SEMATECH e-Handbook 7.2.4.1: 26 of 200, one-sided 95 % lower bound 0.09577.
    assert wilson(26, 200, confidence=0.90).low == pytest.approx(0.09577, abs=5e-6)


@pytest.mark.parametrize(
    ("count", "number", "low", "high"), [(81, 263, 0.2553, 0.3662), (0, 20, 0.0, 0.1611)]
)
def test_wilson_intervals_are_those_newcombe_prints(count, number, low, high):
    # R. G. Newcombe, Statistics in Medicine 17:857-872, 1998, Table I, method 3.
    assert wilson(count, number) == pytest.approx((low, high), abs=5e-5)


def test_none_and_all_end_exactly_at_nothing_and_one():
    assert wilson(0, 20).low == 0
    assert wilson(20, 20).high == 1
    assert exact_share(0, 20).low == 0
    assert exact_share(20, 20).high == 1


def test_nothing_looked_at_gives_no_interval():
    assert wilson(0, 0) is None
    assert exact_share(0, 0) is None


def test_exact_interval_is_the_one_nist_prints():
    # NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20, 90 %: 0.071354 and 0.401029.
    assert exact_share(4, 20, confidence=0.90) == pytest.approx((0.071354, 0.401029), abs=2e-6)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0, 3.6889),
        (1, 0.0253, 5.5716),
        (2, 0.2422, 7.2247),
        (3, 0.6187, 8.7673),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (30, 20.2409, 42.8269),
        (100, 81.3640, 121.6268),
    ],
)
def test_exact_limits_of_a_count_are_those_of_garwoods_table(count, low, high):
    # F. Garwood, Biometrika 28:437-442, 1936, 95 %.
    assert poisson_limits(count) == pytest.approx((low, high), abs=5e-5)


def test_no_event_has_the_rule_of_three_as_its_one_sided_limit():
    assert poisson_limits(0, confidence=0.90).high == pytest.approx(-math.log(0.05))


def test_rate_interval_is_the_one_of_the_r_documentation():
    # R, poisson.test(137, 24.19893): 4.753125 to 6.692709.
    low, high = poisson_limits(137)

    assert (low / 24.19893, high / 24.19893) == pytest.approx((4.753125, 6.692709), abs=5e-7)


def test_rate_ratio_is_the_one_of_the_r_documentation():
    # R, poisson.test(c(11, 6+8+7), c(800, 1083+1050+878)): 1.971488, 0.8584264 to 4.2772659.
    found = rate_ratio(11, 800, 21, 3011)

    assert found.ratio == pytest.approx(1.971488, abs=5e-7)
    assert (found.low, found.high) == pytest.approx((0.8584264, 4.2772659), abs=5e-8)


def test_a_rate_ratio_with_no_events_says_so():
    assert rate_ratio(0, 1, 0, 1).ratio is None
    assert rate_ratio(3, 1, 0, 1).ratio == math.inf
    assert rate_ratio(3, 1, 0, 1).high == math.inf
    assert rate_ratio(0, 1, 3, 1).low == 0


@pytest.mark.parametrize(("count", "number"), [(3, 2), (-1, 2), (0.5, 2)])
def test_what_is_no_share_is_refused(count, number):
    with pytest.raises(ChartInputError, match="no share"):
        wilson(count, number)


def test_what_is_no_count_or_size_is_refused():
    with pytest.raises(ChartInputError):
        poisson_limits(-1)
    with pytest.raises(ChartInputError):
        rate_ratio(1, 0, 1, 1)


def test_clustered_counts_say_as_much_as_that_many_fewer() -> None:
    # 20 against 10 at an excess of 2 have the interval of 10 against 5, and their own ratio.
    clustered = rate_ratio(20, 1.0, 10, 1.0, excess=2.0)
    fewer = rate_ratio(10, 1.0, 5, 1.0)

    assert clustered.ratio == 2.0
    assert (clustered.low, clustered.high) == pytest.approx((fewer.low, fewer.high))
    with pytest.raises(ChartInputError, match="below chance"):
        rate_ratio(2, 1.0, 1, 1.0, excess=0.5)


@pytest.mark.parametrize(("count", "number"), [(0, 7), (1, 9), (3, 10), (26, 200), (12, 12)])
def test_shares_are_those_of_scipy(count: int, number: int) -> None:
    for ours, method in ((wilson, "wilson"), (exact_share, "exact")):
        theirs = binomtest(count, number).proportion_ci(method=method)
        assert ours(count, number) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize("count", [0, 1, 4, 30, 100])
def test_ends_of_a_count_leave_a_fortieth_beyond_them(count: int) -> None:
    # Garwood's own definition, by the Poisson distribution of scipy.
    low, high = poisson_limits(count)

    assert poisson.cdf(count, high) == pytest.approx(0.025)
    if count:
        assert poisson.sf(count - 1, low) == pytest.approx(0.025)
