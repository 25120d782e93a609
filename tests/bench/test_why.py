"""Why: the build's facts and the shop's own cases move the causes of a finding."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.decisions import judge_cause
from defectlog.bench.why import past_cases, why
from defectlog.guide import library
from tests.builders import NOON, make_build, make_finding, make_part, make_photo

CAUSES = [cause.key for cause in library.kind("peel-tear").causes]


def finding_on(session: Session, part, **facts):
    return make_finding(
        session, make_photo(session, make_build(session, part, **facts)), kind="peel-tear"
    )


def shares(session: Session, finding) -> dict[str, float]:
    return {cause.key: cause.share for cause in why(session, finding).ranking.causes}


@pytest.fixture
def part(session: Session):
    return make_part(session)


def test_the_facts_of_the_build_are_used(session: Session, part) -> None:
    bare = shares(session, finding_on(session, part))
    folded = finding_on(session, part, peel_fold_back_deg=30.0)
    told = shares(session, folded)

    moved = {key for key in bare if abs(bare[key] - told[key]) > 0.01}
    assert moved
    assert "peel_fold_back_deg" in why(session, folded).ranking.facts_used


def test_confirmed_cases_of_the_shop_raise_their_cause(session: Session, part) -> None:
    fresh = finding_on(session, part)
    before = shares(session, fresh)
    for _ in range(4):
        judge_cause(session, finding_on(session, part).id, CAUSES[-1], True, seen="", at=NOON)
    after = why(session, fresh)

    assert {c.key: c.share for c in after.ranking.causes}[CAUSES[-1]] > before[CAUSES[-1]]


def test_its_own_verdict_is_no_evidence_from_elsewhere(session: Session, part) -> None:
    finding = finding_on(session, part)
    judge_cause(session, finding.id, CAUSES[0], True, seen="", at=NOON)

    assert past_cases(session, finding).confirmed == {}


def test_a_finding_counts_once_for_the_cause_confirmed_on_it(session: Session, part) -> None:
    fresh = finding_on(session, part)
    for confirmed in (CAUSES[0], CAUSES[0], CAUSES[1]):
        other = finding_on(session, part)
        judge_cause(session, other.id, CAUSES[2], False, seen="", at=NOON)
        judge_cause(session, other.id, confirmed, True, seen="", at=NOON)
    unsolved = finding_on(session, part)
    judge_cause(session, unsolved.id, CAUSES[2], False, seen="", at=NOON)

    cases = past_cases(session, fresh)
    assert cases.confirmed == {CAUSES[0]: 2, CAUSES[1]: 1}
    # Where a cause was confirmed, that the others were not it says nothing new.
    assert cases.refuted == {CAUSES[2]: 1}


def test_the_shops_cases_move_the_shares_as_a_dirichlet_prior_would(session: Session, part) -> None:
    fresh = finding_on(session, part)
    before = shares(session, fresh)
    for _ in range(3):
        judge_cause(session, finding_on(session, part).id, CAUSES[1], True, seen="", at=NOON)

    # Without facts the prior is worth ten cases: (10 p + n) / (10 + 3), by hand.
    expected = {key: (10 * share + 3 * (key == CAUSES[1])) / 13 for key, share in before.items()}
    assert shares(session, fresh) == pytest.approx(expected)


def test_ruling_a_cause_out_lowers_it_and_withdrawing_brings_it_back(
    session: Session, part
) -> None:
    from defectlog.bench.decisions import withdraw_verdict

    finding = finding_on(session, part)
    before = shares(session, finding)[CAUSES[0]]
    judge_cause(session, finding.id, CAUSES[0], False, seen="clean underside", at=NOON)
    session.expire(finding)
    assert shares(session, finding)[CAUSES[0]] < before

    withdraw_verdict(session, finding.id, CAUSES[0])
    assert shares(session, finding)[CAUSES[0]] == pytest.approx(before)
