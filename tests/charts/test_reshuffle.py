import math
from itertools import permutations

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from defectlog.charts.reshuffle import DRAWS, ENOUGH, ranks_within, reshuffled_p
from tests.charts.test_compare import CONTROL, TREATED


def one_group(number):
    return np.zeros(number, dtype=np.int64)


def test_of_two_settings_it_comes_close_to_the_exact_rank_test():
    # The mice of Efron and Tibshirani; reference: scipy.stats.mannwhitneyu over every split.
    exact = mannwhitneyu(TREATED, CONTROL, method="exact").pvalue
    scores = ranks_within(np.array([*TREATED, *CONTROL], dtype=float), one_group(16))
    own = np.array([1.0] * 7 + [0.0] * 9)[:, None]

    p, orders = reshuffled_p(scores, own, one_group(16))

    # Four standard errors: 50 orders as far stand behind the share.
    assert p == pytest.approx(exact, rel=4 / math.sqrt(ENOUGH))
    assert orders < DRAWS
    assert (p, orders) == reshuffled_p(scores, own, one_group(16))


def test_inside_groups_it_comes_close_to_all_orders_inside_groups():
    # 4! * 3! = 144 orders, all gone through here.
    groups = np.array([0, 1, 0, 1, 0, 1, 0])
    scores = ranks_within(np.array([1.0, 9, 2, 7, 4, 8, 3]), groups)
    weights = ranks_within(np.array([1.0, 5, 2, 3, 3, 4, 4]), groups)
    first, second = scores[groups == 0], scores[groups == 1]
    observed = abs(scores @ weights)
    far = [
        abs(np.array(a) @ weights[groups == 0] + np.array(b) @ weights[groups == 1])
        >= observed - 1e-12
        for a in permutations(first)
        for b in permutations(second)
    ]

    p, _ = reshuffled_p(scores, weights[:, None], groups)

    assert p == pytest.approx(np.mean(far), rel=4 / math.sqrt(ENOUGH))


def test_chance_never_comes_out_as_nothing():
    straight = np.arange(40.0) / 41 - 20 / 41

    p, orders = reshuffled_p(straight, straight[:, None], one_group(40))

    assert (p, orders) == (1 / (DRAWS + 1), DRAWS)


def test_ranks_are_shares_of_their_group_and_ties_share_theirs():
    ranks = ranks_within(np.array([5.0, 5, 1, 100]), np.array([0, 0, 0, 1]))

    # By hand: ranks 2.5, 2.5, 1 of 3 over 4, and 1 of 1 over 2, each less a half.
    assert ranks == pytest.approx([0.125, 0.125, -0.25, 0])
