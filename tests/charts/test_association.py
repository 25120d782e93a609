import math

import numpy as np
import pytest
from scipy.stats import kruskal, spearmanr

from defectlog.charts import Column, associations
from defectlog.charts.reshuffle import DRAWS, ENOUGH

RANDOM = np.random.default_rng(11)
# Forty builds: a result, a number it follows, settings it does not.
TEMPERATURE = RANDOM.normal(22, 2, 40).round(1)
VOIDS = (0.01 + 0.001 * (TEMPERATURE - 22) + RANDOM.normal(0, 0.001, 40)).tolist()
PLY = RANDOM.choice(["plain", "coated", "fine"], 40).tolist()


def judge(*columns, values=VOIDS, **more):
    return associations(values, columns, **more)


def test_a_number_that_the_result_follows_is_found_with_its_slope():
    (found,), _ = judge(Column("temp", tuple(TEMPERATURE.tolist()), is_number=True))

    assert found.slope.low <= 0.001 <= found.slope.high
    assert (found.p_value, found.splits) == (1 / (DRAWS + 1), DRAWS)
    assert found.builds == 40


def test_chances_come_close_to_those_of_spearman_and_of_kruskal_and_wallis():
    # Where nothing goes together both large-sample tests are good to a few per cent.
    other = RANDOM.normal(size=40).tolist()
    expected = {
        "other": spearmanr(other, VOIDS).pvalue,
        "ply": kruskal(
            *[[v for v, p in zip(VOIDS, PLY, strict=True) if p == name] for name in set(PLY)]
        ).pvalue,
    }

    found, _ = judge(Column("other", tuple(other), is_number=True), Column("ply", tuple(PLY)))

    assert {one.name for one in found} == set(expected)
    for one in found:
        assert one.p_value == pytest.approx(expected[one.name], rel=4 / math.sqrt(ENOUGH))


def test_of_three_settings_the_two_furthest_apart_are_told_with_a_wider_interval():
    values = [1.0, 2, 3, 4] * 2 + [11.0, 12, 13, 14]
    (found,), _ = judge(Column("way", ("a",) * 4 + ("b",) * 4 + ("c",) * 4), values=values)

    assert found.between in {("a", "c"), ("b", "c")}
    assert found.slope.value == pytest.approx(10)
    # Three pairs share the 5 %.
    assert found.slope.confidence == pytest.approx(1 - 0.05 / 3)
    assert [(s.value, s.builds, s.median) for s in found.settings] == [
        ("a", 4, 2.5),
        ("b", 4, 2.5),
        ("c", 4, 12.5),
    ]


def test_looking_at_many_facts_costs_the_dull_ones_their_place():
    dull = [Column(f"n{i}", tuple(RANDOM.random(40).tolist()), is_number=True) for i in range(30)]

    found, _ = judge(*dull, Column("temp", tuple(TEMPERATURE.tolist()), is_number=True))

    assert found[0].name == "temp" and found[0].q_value == pytest.approx(31 / (DRAWS + 1))
    assert all(one.q_value >= one.p_value for one in found)
    assert [one.q_value for one in found] == sorted(one.q_value for one in found)


def test_nothing_is_said_of_a_fact_that_is_unknown_alike_or_on_too_few_builds():
    few = ("yes",) * 2 + (None,) * 36 + ("no",) * 2
    found, unjudged = judge(
        Column("blank", (None,) * 40),
        Column("same", (True,) * 40),
        Column("few", few),
        Column("one", ("odd", *("usual",) * 39)),
    )

    assert found == ()
    assert [(one.name, one.why, one.builds) for one in unjudged] == [
        ("blank", "unknown", 0),
        ("same", "alike", 40),
        ("few", "few", 4),
        ("one", "few", 40),
    ]


def test_three_against_three_cannot_carry_anything_and_four_against_four_can():
    # 6 choose 3 is 20: the farthest deal and its mirror are 2 of 20, 0.10; of 8 choose 4, 2 of
    # 70, 0.029. With two such facts 0.10 over 2 has to be reached.
    def fact(name, each):
        return Column(name, (True,) * each + (False,) * each)

    (found,), _ = judge(fact("three", 3), values=[1.0, 2, 3, 7, 8, 9])
    assert found.q_value == pytest.approx(0.1, rel=4 / math.sqrt(ENOUGH))

    both, unjudged = judge(fact("three", 3), fact("more", 3), values=[1.0, 2, 3, 7, 8, 9])
    assert (both, [one.why for one in unjudged]) == ((), ["few", "few"])

    four, _ = judge(fact("one", 4), fact("two", 4), values=[1.0, 2, 3, 4, 7, 8, 9, 10])
    assert len(four) == 2


def test_equal_results_carry_nothing():
    found, unjudged = judge(
        Column("temp", tuple(TEMPERATURE.tolist()), is_number=True), values=[0.0] * 40
    )

    assert (found, unjudged[0].why) == ((), "few")


def test_parts_that_differ_do_not_pass_for_an_effect():
    # One part is made one way more often and has ten times the voids; the way does nothing.
    part = np.repeat([0, 1], 30)
    way = np.concatenate([np.arange(30) % 5 == 0, np.arange(30) % 5 != 0])
    values = np.where(part == 1, 10.0, 1.0) * RANDOM.uniform(0.9, 1.1, 60)
    column = Column("way", tuple(bool(one) for one in way))

    (mixed,), _ = judge(column, values=values.tolist())
    (within,), _ = judge(column, values=values.tolist(), strata=part.tolist())

    assert mixed.p_value < 0.01 < within.p_value
    assert within.slope.low <= 0 <= within.slope.high


def test_the_same_start_gives_the_same_answer():
    column = Column("ply", tuple(PLY))

    assert judge(column) == judge(column)


def test_in_shops_without_an_effect_one_list_in_ten_holds_anything():
    # Truth by construction: nothing goes with anything, so any fact listed is a false one, and
    # with no true ones the share of lists with one is the false discovery rate.
    random = np.random.default_rng(17)
    wrong = 0
    for _ in range(150):
        columns = [
            Column(f"n{i}", tuple(random.random(24).tolist()), is_number=True) for i in range(6)
        ]
        found, _ = judge(*columns, values=random.lognormal(size=24).tolist())
        wrong += any(one.q_value <= 0.10 for one in found)

    # 150 lists at 0.10: 15, give or take three standard deviations of 3.7.
    assert 4 <= wrong <= 26


def test_a_fact_that_differs_only_from_part_to_part_says_nothing():
    column = Column("core", ("foam",) * 20 + ("balsa",) * 20)

    found, unjudged = judge(column, strata=[0] * 20 + [1] * 20)

    assert (found, [one.why for one in unjudged]) == ((), ["alike"])


def test_counts_are_told_by_means_of_the_builds_up_to_the_middle_and_above():
    # Three findings on every second build above 22 degrees, none on the others.
    warm = [20.0, 21, 22, 23, 24, 25] * 4
    counts = [0.0, 0, 0, 3, 0, 3] * 4
    (found,), _ = judge(Column("temp", tuple(warm), is_number=True), values=counts, by_means=True)

    assert (found.cut, found.between) == (22, (False, True))
    # By hand: 2 on average above, 0 up to it.
    assert found.slope.value == pytest.approx(2)
