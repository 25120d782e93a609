"""A shop's own kinds and causes: entries like any other, marked, ranked, and modest."""

import pytest

from defectlog.errors import NotFoundError
from defectlog.guide import kinds, library, rank
from defectlog.guide.own import (
    FALSE_ALARM,
    HIT,
    OWN_FAMILY,
    OwnCheck,
    own_cause,
    own_kind,
    with_causes,
    with_own,
)
from defectlog.guide.ranked import NO_CAUSES
from tests.guide.made_up import made_up

DUST = own_cause(
    "own-dust",
    "Dust from the saw",
    why="It settles on the tack.",
    check=OwnCheck("Wipe the place with a dark cloth.", "the cloth is grey", 2),
    prevention="Close the saw room before laying up.",
)


def shares(ranking):
    return {ranked.key: ranked.share for ranked in ranking.causes}


def test_an_own_cause_is_occasional_and_ranked_with_the_others():
    found = rank(with_causes(made_up(), [DUST]), {})

    # Weights 3, 3, 0.3 and 1 for the own cause; with 10 % kept for something else of 7.3 / 0.9.
    assert shares(found) == pytest.approx(
        {
            "leak": 0.9 * 3 / 7.3,
            "gas": 0.9 * 3 / 7.3,
            "own-dust": 0.9 * 1 / 7.3,
            "cold": 0.9 * 0.3 / 7.3,
            "something-else": 0.1,
        }
    )
    assert found.cause("own-dust").cause.origin == "this shop"
    assert found.cause("leak").cause.origin == ""


def test_cases_of_an_own_cause_move_it_as_a_dirichlet_prior_would():
    found = rank(with_causes(made_up(), [DUST]), {}, {"own-dust": 3, "leak": 1})

    # Prior worth ten cases: (10 p + n) / (10 + 4), p as above.
    assert shares(found)["own-dust"] == pytest.approx((10 * 0.9 / 7.3 + 3) / 14)
    assert shares(found)["leak"] == pytest.approx((10 * 0.9 * 3 / 7.3 + 1) / 14)
    assert shares(found)["something-else"] == pytest.approx(10 * 0.1 / 14)


def test_the_check_of_an_own_cause_speaks_for_it_and_not_too_loudly():
    kind = with_causes(made_up(), [DUST])
    before = shares(rank(kind, {}))
    after = shares(rank(kind, {}, checked={"own-dust": True}))

    # Bayes by hand: its share times HIT, all others times FALSE_ALARM, made to sum to one.
    mine = before["own-dust"] * HIT
    rest = (1 - before["own-dust"]) * FALSE_ALARM
    assert after["own-dust"] == pytest.approx(mine / (mine + rest))
    assert any(value.check.key == "own-dust" for value in rank(kind, {}).checks)


def test_a_hazard_named_in_an_own_check_brings_its_caution():
    check = OwnCheck("Wipe it with acetone.", "the cloth is grey", 2)
    (made,) = own_cause("own-x", "X", check=check).checks

    assert made.cautions
    assert DUST.checks[0].cautions == ()


def test_a_kind_without_causes_says_so_and_names_none():
    found = rank(own_kind("own-k", "KK", "Kelp print", look="Green.", definition="A print."), {})

    assert shares(found) == {"something-else": 1.0}
    assert found.verdict == NO_CAUSES
    assert "expert judgement" not in found.basis
    assert found.next_check is None


def test_a_kind_with_one_cause_is_ranked():
    kind = own_kind("own-k", "KK", "Kelp print", look="Green.", definition="A print.")
    found = rank(with_causes(kind, [DUST]), {})

    assert shares(found) == pytest.approx({"own-dust": 0.9, "something-else": 0.1})


def test_own_kinds_stand_on_a_shelf_of_their_own_after_those_of_the_guide():
    mine = own_kind("own-k", "KK", "Kelp print", look="Green.", definition="A print.")
    made = with_own([mine], {"dry-spot": [DUST], "own-k": [DUST]})

    assert made.families()[-1][0] == OWN_FAMILY
    assert [one.key for one in made.families()[-1][1]] == ["own-k"]
    assert made.kind("own-k").causes == (DUST,)
    assert made.kind("dry-spot").causes[-1] == DUST
    assert made.kind("dry-spot").preventions[-1].do == DUST.preventions[0].do
    assert made.kind("dry-spot").sources
    # Last by its letters too: line patterns on photos go by them, and those of the guide stay.
    assert OWN_FAMILY.key == max(family.key for family, _ in made.families())
    # The guide itself is as it was.
    assert library.kind("dry-spot").causes[-1] != DUST
    assert made.kinds[: len(kinds())][0] == kinds()[0]
    with pytest.raises(NotFoundError):
        made.kind("gremlin")


def test_a_cause_ruled_out_on_the_part_leaves_its_share_to_the_others():
    found = rank(made_up(), {}, ruled_out=["leak"])

    assert found.cause("leak").share == 0
    assert found.cause("leak").fit == "ruled out"
    assert found.cause("leak").trace[-1].words == "ruled out on this part"
    # Left: gas 3, cold 0.3, something else 0.7.
    assert found.cause("gas").share == pytest.approx(3 / 4)
    assert all(value.cause != "leak" for value in found.checks)


def test_with_every_cause_ruled_out_something_else_is_left():
    found = rank(made_up(), {}, ruled_out=["leak", "gas", "cold"])

    assert shares(found)["something-else"] == 1
    assert "nothing named here fits" in found.verdict
