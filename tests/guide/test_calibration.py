"""The shares of causes on simulated shops whose true causes are known.

The whole study with its tables is tests/benchmarks/cause_calibration.py; here a small part of
it stands guard. Bounds are wide against the spread of so few shops.
"""

import numpy as np
import pytest

from defectlog.guide import kind, kinds
from defectlog.guide.ranked import SOMETHING_ELSE
from tests.benchmarks.cause_calibration import WAYS, pairs, scores, shops_of
from tests.benchmarks.shops import AS_DECLARED, HALF, Shop, World, declared, levels_of


@pytest.fixture(scope="module", params=[AS_DECLARED, HALF], ids=lambda world: world.name)
def held(request):
    return shops_of(request.param, shops=8, cases=20, seed=11)


def test_the_ranking_is_nearer_the_truth_than_the_prior_and_than_naive_multiplication(held):
    score = {name: scores(way, held)[:, 0].mean() for name, way in WAYS.items()}

    assert score["ours"] < score["prior"]
    assert score["ours"] < score["naive"]


def test_the_leader_s_share_is_about_how_often_it_is_the_cause(held):
    ours, naive = (scores(WAYS[name], held) for name in ("ours", "naive"))

    assert (ours[:, 1] - ours[:, 2]).mean() == pytest.approx(0, abs=0.07)
    assert (naive[:, 1] - naive[:, 2]).mean() > (ours[:, 1] - ours[:, 2]).mean() + 0.03


def test_of_large_shares_most_are_true(held):
    shares, true = pairs(WAYS["ours"], held)

    large = shares >= 0.5
    assert true[large].mean() == pytest.approx(shares[large].mean(), abs=0.12)


def test_a_simulated_cause_shifts_a_fact_by_the_declared_odds():
    # By construction: the odds of two levels under the cause over those under something else.
    peel = kind("peel-tear")
    shop = Shop(peel, AS_DECLARED, np.random.default_rng(3))
    row = next(row for row in levels_of(peel) if row.fact == "fold_class")
    chances = shop.chances["fold_class"]
    cause, other = (shop.causes.index(k) for k in ("lifted-not-folded", SOMETHING_ELSE))
    low, mid = row.values.index("low"), row.values.index("mid")

    ratio = (chances[cause, low] / chances[cause, mid]) / (
        chances[other, low] / chances[other, mid]
    )

    # +++ is 5 and ++ is 2.5 on the strength scale.
    assert ratio == pytest.approx(5 / 2.5)


def test_facts_of_one_group_hang_together_and_loose_ones_do_not():
    peel = kind("peel-tear")

    def correlation(bond):
        shop = Shop(peel, World("", 0.0, bond=bond, known=1.0), np.random.default_rng(5))
        cases = [case.facts for case in shop.cases(1500)]
        order = {row.fact: row.values for row in levels_of(peel)}
        places = [
            [order[fact].index(case[fact]) for case in cases]
            for fact in ("cure_time_class", "cure_temp_class")
        ]
        return np.corrcoef(places)[0, 1]

    assert correlation(0.9) > 0.4
    assert abs(correlation(0.0)) < 0.1


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_every_declared_effect_can_come_up_in_a_simulated_shop(one):
    for row in levels_of(one):
        assert any(
            (declared(one, cause.key, row) != 1).any()
            for cause in one.causes
            if any(effect.fact == row.fact for effect in cause.facts)
        ), row.fact
