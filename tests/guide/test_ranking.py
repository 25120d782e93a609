"""Causes ranked: sums done by hand, and what must hold whatever the facts are."""

from math import exp, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from defectlog.errors import NotFoundError
from defectlog.guide import History, kinds, rank
from defectlog.guide.ranking import OWN_CASES
from defectlog.guide.weighing import CAP_LOG_ODDS, PRIOR_CASES
from tests.guide.made_up import made_up, table

# Weights of the made-up kind: leak 3, gas 3, cold 0.3. Something else has 10 % of the prior:
# its weight is (3 + 3 + 0.3) * 0.1 / 0.9 = 0.7. Sum 7.0. Of every declared factor the root is
# counted (half of its log-odds), for a second fact of the same group the fourth root.


def shares(ranking):
    return {ranked.key: ranked.share for ranked in ranking.causes}


def test_without_facts_the_shares_are_the_priors():
    found = shares(rank(made_up(), {}))

    assert found == pytest.approx(
        {"leak": 3 / 7, "gas": 3 / 7, "cold": 0.3 / 7, "something-else": 0.1}
    )


def test_a_known_fact_multiplies_the_odds_of_its_cause():
    found = shares(rank(made_up(), {"vacuum_lost": True}))

    # Declared is 2.5: leak 3 * sqrt(2.5) = 4.7434; sum 4.7434 + 3 + 0.3 + 0.7 = 8.7434.
    leak = 3 * sqrt(2.5)
    total = leak + 3 + 0.3 + 0.7
    assert total == pytest.approx(8.7434, abs=5e-5)
    assert found == pytest.approx(
        {"leak": leak / total, "gas": 3 / total, "cold": 0.3 / total, "something-else": 0.7 / total}
    )


def test_what_is_counted_of_a_declared_factor_is_said():
    ranked = rank(made_up(), {"vacuum_lost": True}).cause("leak")

    # sqrt(2.5) = 1.58.
    assert ranked.trace[-1].words == "vacuum was lost: × 1.6, of × 2.5 declared"
    assert ranked.raised_by[0].as_json()["declared_factor"] == 2.5
    assert ranked.raised_by[0].as_json()["factor"] == pytest.approx(sqrt(2.5))


def test_a_class_is_derived_from_the_numbers_of_the_drop_test():
    # (110 - 10) mbar in 10 min = 10 mbar/min: fails.
    found = rank(made_up(), {"drop_start_mbar": 10.0, "drop_end_mbar": 110.0, "drop_minutes": 10.0})

    [reason] = found.cause("leak").raised_by
    assert reason.effect.fact == "drop_class"
    assert reason.value_words == "fails"
    assert set(reason.from_facts) == {"drop_start_mbar", "drop_end_mbar", "drop_minutes"}
    assert set(found.facts_used) == {"drop_start_mbar", "drop_end_mbar", "drop_minutes"}


def test_a_second_fact_of_one_group_counts_a_quarter_of_its_log_odds():
    found = rank(made_up(), {"drop_class": "fail", "vacuum_lost": True})

    # Both speak of one leak: 3 * sqrt(5) * 2.5 ** 0.25 = 8.44.
    assert found.cause("leak").weight == pytest.approx(3 * sqrt(5) * 2.5**0.25)
    assert [r.factor for r in found.cause("leak").raised_by] == pytest.approx([sqrt(5), 2.5**0.25])
    assert "for a stronger fact said the same" in found.cause("leak").trace[-1].words


def test_facts_of_different_groups_count_each_as_the_strongest_of_its_own():
    found = rank(made_up(), {"drop_class": "fail", "knocked": True})

    assert found.cause("leak").weight == pytest.approx(3 * sqrt(5) * sqrt(1.5))


def test_a_fact_for_and_a_fact_against_in_one_group_both_count():
    found = rank(made_up(), {"drop_class": "tight", "vacuum_lost": True})

    assert found.cause("leak").weight == pytest.approx(3 / 2.5 * 2.5)
    assert len(found.cause("leak").lowered_by) == 1


def test_a_ruling_fact_rules_out_whatever_else_is_known():
    found = rank(made_up(), {"process": "wet-layup", "drop_class": "fail", "vacuum_lost": True})

    assert found.cause("leak").share == 0
    assert found.cause("leak").fit == "ruled out"
    assert found.cause("leak").ruled_out_by[0].effect.words == "no bag"
    # Left: gas 3, cold 0.3, something else 0.7.
    assert found.cause("gas").share == pytest.approx(3 / 4)


def test_with_every_cause_ruled_out_all_that_is_left_is_something_else():
    found = rank("tacky-adhesive", {"tack_adhesive": "none", "tack_face": "tool"})

    assert shares(found)["something-else"] == 1
    assert {ranked.fit for ranked in found.causes if ranked.cause} == {"ruled out"}
    assert found.next_check is None
    assert "look-alikes" in found.verdict


def test_no_run_of_facts_leaves_the_cap():
    entry = table()
    entry["cause"][0]["facts"] = [
        {"fact": name, "is": True, "strength": "+++", "words": name}
        for name in ("knocked", "pooled_resin", "symmetric", "unflued_heater")
    ]
    found = rank(made_up(entry), {fact["fact"]: True for fact in entry["cause"][0]["facts"]})

    # 3 * sqrt(5)^4 = 75 is held at e^4 = 54.6.
    assert found.cause("leak").weight == pytest.approx(exp(CAP_LOG_ODDS))
    assert "cap" in found.cause("leak").trace[-1].words


def test_something_else_keeps_five_per_cent_against_any_reason():
    found = shares(rank(made_up(), {"drop_class": "fail", "vacuum_lost": True, "knocked": True}))

    # leak 3 * sqrt(5 * 1.5) * 2.5 ** 0.25 = 10.331; 0.7 / (10.331 + 3 + 0.3 + 0.7) = 4.9 % would
    # be left; 5 % is kept.
    leak = 3 * sqrt(5 * 1.5) * 2.5**0.25
    assert found["something-else"] == pytest.approx(0.05)
    assert found["leak"] == pytest.approx(0.95 * leak / (leak + 3.3))


def test_a_number_speaks_only_inside_its_bounds():
    at = {t: rank(made_up(), {"resin_temp_c": t}).cause("cold").weight for t in (17.9, 18.0, 25.0)}

    assert at == pytest.approx({17.9: 0.3 * sqrt(1.5), 18.0: 0.3 / sqrt(1.5), 25.0: 0.3})


def test_unknown_facts_change_nothing():
    bare = rank("pinholes-tool", {})
    full_of_nothing = rank(
        "pinholes-tool", {"drop_start_mbar": None, "process": None, "the_shops_own": "blue"}
    )

    assert shares(full_of_nothing) == shares(bare)
    assert full_of_nothing.facts_used == ()


def test_a_fact_that_speaks_for_no_cause_changes_nothing_but_counts_as_used():
    found = rank(made_up(), {"drop_class": "ok"})

    assert shares(found) == shares(rank(made_up(), {}))
    assert found.facts_used == ("drop_class",)
    assert "vacuum_lost" in found.facts_unknown


def test_words_lead():
    assert rank(made_up(), {"drop_class": "fail"}).cause("leak").fit == "strong fit"
    # 43 % without any reason is a prior, not a fit.
    assert rank(made_up(), {}).cause("leak").fit == "fair"
    assert rank(made_up(), {}).cause("cold").fit == "weak"


def test_close_leaders_are_not_separated():
    close = rank(made_up(), {})
    apart = rank(made_up(), {"drop_class": "fail"})

    assert close.not_separated
    assert close.verdict == "not separated: do the check"
    assert not apart.not_separated
    assert apart.verdict == "strong fit: Leak"


def test_one_moderate_reason_does_not_separate_equal_causes_and_a_strong_one_does():
    # ln sqrt(2.5) = 0.46 and ln sqrt(5) = 0.80, on either side of 0.7.
    assert rank(made_up(), {"degassed": False}).not_separated
    assert not rank(made_up(), {"drop_class": "fail"}).not_separated


def test_the_shops_own_cases_move_the_priors_as_a_dirichlet_does():
    found = rank(made_up(), {}, {"cold": 6, "leak": 4})

    # Posterior mean (a_i + n_i) / (a_0 + n) of Gelman et al., Bayesian Data Analysis, 3rd ed.,
    # section 3.4, with a_0 = 10: leak (10 * 3/7 + 4) / 20, cold (10 * 0.3/7 + 6) / 20.
    assert PRIOR_CASES == 10
    assert found.cause("leak").share == pytest.approx((10 * 3 / 7 + 4) / 20)
    assert found.cause("cold").share == pytest.approx((10 * 0.3 / 7 + 6) / 20)
    assert found.cause("gas").share == pytest.approx((10 * 3 / 7) / 20)
    assert shares(found)["something-else"] == pytest.approx(1 / 20)


def test_a_confirmed_cause_the_entry_does_not_name_counts_as_something_else():
    found = rank(made_up(), {}, {"moonlight": 10})

    assert shares(found)["something-else"] == pytest.approx((10 * 0.1 + 10) / 20)


def test_a_cause_ruled_out_in_earlier_cases_gives_its_share_to_the_others():
    found = rank(made_up(), {}, History(refuted={"leak": 10}))

    # Ten cases go to the others by their prior shares: gas gets 10 * (3/7) / (4/7) = 7.5.
    assert found.cause("leak").share == pytest.approx((10 * 3 / 7) / 20)
    assert found.cause("gas").share == pytest.approx((10 * 3 / 7 + 7.5) / 20)


def test_the_answer_says_what_it_rests_on():
    assert "judgement" in rank(made_up(), {}).basis
    assert "judgement" in rank(made_up(), {}, {"leak": 3}).basis
    assert "judgement" not in rank(made_up(), {}, {"leak": OWN_CASES}).basis


def test_a_check_done_multiplies_by_its_chances():
    found = rank(made_up(), {}, checked={"listen": True})
    not_found = rank(made_up(), {}, checked={"listen": False})

    # Positive 0.8 under a leak and 0.1 otherwise: 3 * 8 = 24. Negative 0.2 / 0.9.
    assert found.cause("leak").weight == pytest.approx(24)
    assert not_found.cause("leak").weight == pytest.approx(3 * 0.2 / 0.9)
    assert not_found.cause("gas").weight == pytest.approx(3)
    assert "listen" not in {value.check.key for value in found.checks}


def test_a_check_shared_by_two_causes_raises_both():
    found = rank(made_up(), {}, checked={"feel": True})

    # 0.9 / 0.2 for cold, and 0.7 / 0.2 for gas, which shows the same.
    assert found.cause("cold").weight == pytest.approx(0.3 * 4.5)
    assert found.cause("gas").weight == pytest.approx(3 * 3.5)


def test_a_check_of_another_kind_is_refused():
    with pytest.raises(NotFoundError, match="no-such-check"):
        rank(made_up(), {}, checked={"no-such-check": True})


def test_a_kind_the_guide_lacks_is_refused():
    with pytest.raises(NotFoundError, match="moon-dust"):
        rank("moon-dust", {})


def test_a_negative_count_is_a_fault_of_the_caller():
    with pytest.raises(ValueError, match="-1"):
        rank(made_up(), {}, {"leak": -1})


def test_the_next_check_tells_most_per_minute():
    values = {v.check.key: v for v in rank(made_up(), {}).checks}
    best = rank(made_up(), {}).next_check

    assert best is not None
    assert best.bits_per_minute == max(v.bits_per_minute for v in values.values())
    # "listen" tells more in all, but takes four minutes for it.
    assert values["listen"].bits > values["look"].bits
    assert "min of work" in best.why


def test_every_step_from_prior_to_weight_can_be_shown():
    ranked = rank(
        made_up(), {"drop_class": "fail", "vacuum_lost": True}, {"leak": 2}, checked={"look": True}
    ).cause("leak")

    assert [round(line.weight, 3) for line in ranked.trace] == [
        3.0,
        # (10 * 3/7 + 2) / 12 of a sum of 7.
        round(7 * (10 * 3 / 7 + 2) / 12, 3),
        round(7 * (10 * 3 / 7 + 2) / 12 * sqrt(5), 3),
        round(7 * (10 * 3 / 7 + 2) / 12 * sqrt(5) * 2.5**0.25, 3),
    ]
    assert ranked.trace[-1].weight == pytest.approx(ranked.weight)


def test_json_has_the_keys_of_the_command():
    told = rank("pinholes-tool", {"drop_class": "fail"}).as_json()

    assert list(told) == ["kind", "causes", "next_check", "facts_used", "facts_unknown"]
    for cause in told["causes"]:
        assert list(cause) == [
            "cause",
            "title",
            "share",
            "raised_by",
            "lowered_by",
            "checks",
            "fixes",
            "preventions",
        ]
        assert cause["checks"] and cause["fixes"] and cause["preventions"]
    assert sum(cause["share"] for cause in told["causes"]) == pytest.approx(1)


CHOICES = {
    "drop_class": ["tight", "ok", "marginal", "fail"],
    "vacuum_lost": [True, False],
    "process": ["wet-layup", "bagged-wet-layup", "infusion"],
    "tack_adhesive": ["none", "light", "heavy"],
    "tack_face": ["tool", "interply", "core", "bag"],
    "fold_class": ["fold", "mid", "low"],
    "cure_temp_class": ["low", "usual", "high"],
    "surface_fabric": ["woven", "unidirectional"],
    "mix_class": ["logged", "unsure", "off"],
    "resin_temp_c": [10.0, 20.0],
    "bag_slack": ["slack", "tight"],
}
FACTS = st.fixed_dictionaries({}, optional={k: st.sampled_from(v) for k, v in CHOICES.items()})
KINDS = st.sampled_from([kind.key for kind in kinds()])


@settings(max_examples=60, deadline=None)
@given(KINDS, FACTS, st.integers(0, 30))
def test_shares_sum_to_one_and_stay_between_zero_and_one(kind, facts, own):
    found = rank(kind, facts, {rank(kind, {}).causes[0].key: own})

    assert sum(ranked.share for ranked in found.causes) == pytest.approx(1)
    assert all(0 <= ranked.share <= 1 for ranked in found.causes)
    assert found.cause("something-else").share >= 0.05 - 1e-12


@settings(max_examples=60, deadline=None)
@given(KINDS, FACTS, st.randoms())
def test_the_order_of_the_facts_is_of_no_account(kind, facts, chance):
    names = list(facts)
    chance.shuffle(names)

    assert (
        rank(kind, {name: facts[name] for name in names}).as_json()["causes"]
        == (rank(kind, facts).as_json()["causes"])
    )


@settings(max_examples=100, deadline=None)
@given(FACTS, st.sampled_from(["leak", "gas", "cold"]))
def test_a_raising_fact_never_lowers_its_cause(facts, key):
    raising = {
        "leak": ("knocked", True),
        "gas": ("degassed", False),
        "cold": ("resin_temp_c", 10.0),
    }
    name, value = raising[key]
    without = {k: v for k, v in facts.items() if k != name}

    before = rank(made_up(), without).cause(key).share
    after = rank(made_up(), without | {name: value}).cause(key).share

    assert after >= before - 1e-12
