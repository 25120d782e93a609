"""The arithmetic of belief against printed formulas and sums done by hand."""

from math import log, log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectlog.guide.odds import (
    entropy_bits,
    grouped,
    information_gain_bits,
    posterior_shares,
)


def test_the_strongest_of_a_group_counts_its_share_and_the_rest_less():
    # Strongest 1.6 at a half, the other 0.9 at a quarter; -0.4 is the strongest of its direction.
    counted = grouped([("leak", 0.9), ("leak", 1.6), ("leak", -0.4)], 0.25, 0.5)

    assert counted == pytest.approx((0.9 * 0.25, 1.6 * 0.5, -0.4 * 0.5))


def test_entropy_of_a_printed_example():
    # Cover and Thomas, Elements of Information Theory, 2nd ed., example 2.1.2: probabilities
    # 1/2, 1/4, 1/8, 1/8 have an entropy of 7/4 bits.
    assert entropy_bits([1 / 2, 1 / 4, 1 / 8, 1 / 8]) == pytest.approx(7 / 4)


def test_certainty_has_no_entropy():
    assert entropy_bits([1.0, 0.0]) == 0


def test_a_perfect_check_of_two_even_causes_tells_one_bit():
    assert information_gain_bits([0.5, 0.5], [1.0, 0.0]) == pytest.approx(1.0)


def test_a_check_that_answers_alike_tells_nothing():
    assert information_gain_bits([0.2, 0.3, 0.5], [0.4, 0.4, 0.4]) == pytest.approx(0, abs=1e-12)


def test_gain_is_entropy_now_less_the_entropy_expected_after():
    # Shares 1/2, 1/4, 1/4; positive 0.8, 0.2, 0.2.
    # P(+) = 0.4 + 0.05 + 0.05 = 0.5.
    # After +: 0.8, 0.1, 0.1, entropy 0.9219 bit. After -: 0.2, 0.4, 0.4, entropy 1.5219 bit.
    # Now 1.5 bit, so 1.5 - 0.5 * 0.9219 - 0.5 * 1.5219 = 0.2781 bit.
    after_yes = -(0.8 * log2(0.8) + 2 * 0.1 * log2(0.1))
    after_no = -(0.2 * log2(0.2) + 2 * 0.4 * log2(0.4))

    found = information_gain_bits([0.5, 0.25, 0.25], [0.8, 0.2, 0.2])

    assert found == pytest.approx(1.5 - 0.5 * after_yes - 0.5 * after_no)
    assert found == pytest.approx(0.2781, abs=5e-5)


@given(
    st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.01, 0.99)), min_size=2, max_size=9),
)
def test_a_check_tells_between_nothing_and_one_bit(rows):
    total = sum(weight for weight, _ in rows)

    gain = information_gain_bits([w / total for w, _ in rows], [p for _, p in rows])

    assert -1e-12 <= gain <= 1 + 1e-12


def test_posterior_mean_of_a_dirichlet_prior():
    # Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 3.4: prior Dirichlet(a),
    # counts y, posterior Dirichlet(a + y) with mean (a_j + y_j) / sum. a = (4, 4, 2),
    # y = (6, 1, 3): (10, 5, 5) / 20.
    found = posterior_shares(
        {"a": 0.4, "b": 0.4, "c": 0.2}, {"a": 6, "b": 1, "c": 3}, {}, strength=10
    )

    assert found == pytest.approx({"a": 0.5, "b": 0.25, "c": 0.25})


def test_without_cases_the_prior_stays():
    assert posterior_shares({"a": 0.7, "b": 0.3}, {}, {}, strength=10) == pytest.approx(
        {"a": 0.7, "b": 0.3}
    )


def test_many_cases_carry_the_shares():
    found = posterior_shares({"a": 0.9, "b": 0.1}, {"b": 9990}, {}, strength=10)

    assert found["b"] == pytest.approx(0.9991)


def test_the_strongest_of_a_group_counts_in_full_and_the_rest_in_part():
    reasons = [("leak", log(2.5)), ("leak", log(5)), ("cure", log(1.5)), ("leak", -log(2.5))]

    assert grouped(reasons, 0.25) == pytest.approx((0.25 * log(2.5), log(5), log(1.5), -log(2.5)))


@given(st.permutations([("a", 0.4), ("a", 0.9), ("a", 0.9), ("b", -0.4), ("a", -1.6)]))
def test_the_sum_does_not_depend_on_the_order(reasons):
    # 0.9 + 0.25 * (0.9 + 0.4) - 1.6 - 0.4 = -0.775.
    assert sum(grouped(reasons, 0.25)) == pytest.approx(-0.775)
