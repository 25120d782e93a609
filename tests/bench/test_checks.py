"""Checks done on the part: kept, taken back, and counted by the ranking at once."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.checks import record_check, withdraw_check
from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import delete_mark, edit_mark
from defectlog.bench.why import why
from defectlog.errors import FormError, NotFoundError
from defectlog.guide import library
from defectlog.guide.weighing import chance
from tests.builders import NOON, make_build, make_finding, make_part, make_photo

KIND = library.kind("peel-tear")
CAUSE = KIND.causes[0]
CHECK = CAUSE.checks[0]


@pytest.fixture
def finding(session: Session):
    return make_finding(
        session, make_photo(session, make_build(session, make_part(session))), kind="peel-tear"
    )


def shares(session: Session, finding) -> dict[str, float]:
    return {cause.key: cause.share for cause in why(session, finding).ranking.causes}


@pytest.mark.parametrize("positive", [True, False])
def test_a_result_moves_the_shares_as_bayes_says(session: Session, finding, positive: bool) -> None:
    before = shares(session, finding)
    record_check(session, finding.id, CHECK.key, positive, seen="", at=NOON)

    # By hand: every share times the chance of that result under its cause, made to sum to one.
    chances = {cause.key: chance(CHECK, cause) for cause in KIND.causes}
    chances["something-else"] = CHECK.false_alarm
    weights = {
        key: share * (chances[key] if positive else 1 - chances[key])
        for key, share in before.items()
    }
    total = sum(weights.values())
    expected = {key: weight / total for key, weight in weights.items()}
    # Something else keeps its least share; this holds as long as it does not fall below it.
    assert expected["something-else"] > library.shared().something_else.keeps
    assert shares(session, finding) == pytest.approx(expected)


def test_a_check_done_is_not_asked_for_again_and_the_next_one_follows(
    session: Session, finding
) -> None:
    first = why(session, finding).ranking.next_check
    assert first
    record_check(session, finding.id, first.check.key, False, seen="even", at=NOON)

    asked = why(session, finding)
    assert asked.ranking.next_check and asked.ranking.next_check.check.key != first.check.key
    assert all(value.check.key != first.check.key for value in asked.ranking.checks)
    assert asked.checks[first.check.key].seen == "even"


def test_done_again_the_later_result_stands(session: Session, finding) -> None:
    record_check(session, finding.id, CHECK.key, True, seen="shiny", at=NOON)
    record_check(session, finding.id, CHECK.key, False, seen=" dull, in better light ", at=NOON)

    (kept,) = finding.checks
    assert (kept.is_positive, kept.seen) == (False, "dull, in better light")


def test_taking_a_result_back_leaves_the_ranking_as_it_was(session: Session, finding) -> None:
    before = shares(session, finding)
    record_check(session, finding.id, CHECK.key, True, seen="", at=NOON)
    withdraw_check(session, finding.id, CHECK.key)

    assert shares(session, finding) == pytest.approx(before)
    assert finding.checks == []


def test_ruling_out_stays_possible_whatever_the_check_showed(session: Session, finding) -> None:
    record_check(session, finding.id, CHECK.key, True, seen="", at=NOON)
    judge_cause(session, finding.id, CAUSE.key, False, seen="it was another build", at=NOON)
    session.expire(finding)

    assert shares(session, finding)[CAUSE.key] == 0


def test_what_the_kind_has_no_check_for_is_refused(session: Session, finding) -> None:
    with pytest.raises(NotFoundError, match="no check moon"):
        record_check(session, finding.id, "moon", True, seen="", at=NOON)
    with pytest.raises(FormError):
        record_check(session, finding.id, CHECK.key, True, seen="x" * 301, at=NOON)
    assert finding.checks == []


def test_a_result_does_not_speak_once_the_finding_has_another_kind(
    session: Session, finding
) -> None:
    record_check(session, finding.id, CHECK.key, True, seen="", at=NOON)
    (mark,) = finding.marks
    edit_mark(session, mark.id, mark.photo_id, kind="dry-spot")

    assert why(session, finding).checks == {}


def test_a_finding_with_a_check_done_outlives_its_last_mark(session: Session, finding) -> None:
    record_check(session, finding.id, CHECK.key, True, seen="", at=NOON)
    (mark,) = finding.marks
    delete_mark(session, mark.id, mark.photo_id, NOON)

    assert finding.deleted_at is None
