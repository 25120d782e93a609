"""Marks become findings, findings get their outcome; what cannot be is refused in a sentence."""

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.decisions import decide, judge_cause, withdraw_verdict
from defectlog.bench.findings import (
    add_mark,
    delete_mark,
    edit_mark,
    list_findings,
    restore_mark,
)
from defectlog.bench.fixes import record_fix
from defectlog.bench.mark_points import MarkError
from defectlog.errors import ChangedMeanwhileError, FieldError, FormError, NotFoundError
from defectlog.records import Outcome, Shape
from tests.builders import NOON, make_build, make_finding, make_photo


@pytest.fixture
def photo(session: Session):
    return make_photo(session, make_build(session), px_per_mm=10)


def test_a_mark_with_a_kind_opens_a_finding(session: Session, photo) -> None:
    mark = add_mark(session, photo.id, Shape.BOX, [(5, 5), (60, 40)], kind="dry-spot", at=NOON)

    assert mark.finding.kind == "dry-spot"
    assert mark.finding.is_open
    assert photo.build.findings == [mark.finding]


def test_a_mark_joins_a_finding_of_its_build(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    mark = add_mark(session, photo.id, Shape.POINT, [(5, 5)], finding_number=finding.id, at=NOON)

    assert mark.finding is finding
    assert len(finding.marks) == 2


def test_a_mark_cannot_join_a_finding_of_another_build(session: Session, photo) -> None:
    other = make_finding(session, make_photo(session, make_build(session, photo.build.part)))
    with pytest.raises(FieldError, match="another build"):
        add_mark(session, photo.id, Shape.POINT, [(5, 5)], finding_number=other.id, at=NOON)


def test_a_mark_sent_twice_is_one_mark(session: Session, photo) -> None:
    sent = [
        add_mark(session, photo.id, Shape.POINT, [(5, 5)], kind="dry-spot", client_id="a1", at=NOON)
        for _ in range(2)
    ]
    assert sent[0] is sent[1]
    assert len(list_findings(session)) == 1


@pytest.mark.parametrize(
    ("shape", "points", "words"),
    [
        (Shape.POINT, [(401, 5)], "outside the picture"),
        (Shape.POINT, [(5, -1)], "outside the picture"),
        (Shape.POINT, [(float("nan"), 5)], "outside the picture"),
        (Shape.LINE, [(5, 5), (5, 5)], "no length"),
        (Shape.LINE, [(5, 5)], "2 to"),
        (Shape.OUTLINE, [(5, 5), (9, 9)], "3 to"),
        (Shape.BOX, [(5, 5), (9, 9), (5, 9)], "has 2"),
        (Shape.BOX, [(5, 5), (90, 5)], "needs an area"),
        (Shape.OUTLINE, [(5, 5), (50, 50), (95, 95)], "needs an area"),
        (Shape.OUTLINE, [(5, 5), (95, 95), (95, 5), (5, 95)], "crosses itself: draw it again"),
        (Shape.POINT, [("left", 5)], "could not be read"),
        (Shape.POINT, 7, "could not be read"),
    ],
)
def test_what_is_no_mark_is_refused_with_what_to_do(
    session: Session, photo, shape: Shape, points, words: str
) -> None:
    with pytest.raises(MarkError, match=words):
        add_mark(session, photo.id, shape, points, kind="dry-spot", at=NOON)
    assert list_findings(session) == []


def test_a_mark_needs_a_kind_that_the_guide_knows(session: Session, photo) -> None:
    with pytest.raises(FieldError, match="choose what it is"):
        add_mark(session, photo.id, Shape.POINT, [(5, 5)], at=NOON)
    with pytest.raises(NotFoundError):
        add_mark(session, photo.id, Shape.POINT, [(5, 5)], kind="gremlin", at=NOON)


def test_a_bare_finding_goes_with_its_last_mark_and_comes_back_with_it(
    session: Session, photo
) -> None:
    finding = make_finding(session, photo)
    (mark,) = finding.marks
    delete_mark(session, mark.id, photo.id, NOON)
    session.expire(photo.build)
    assert photo.marks == [] and photo.build.findings == []

    restore_mark(session, mark.id, photo.id)
    session.expire(photo.build)
    assert photo.marks == [mark] and photo.build.findings == [finding]


def test_a_finding_somebody_worked_on_stays_without_marks(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    record_fix(session, finding.id, "sanded and wetted out", minutes=20, at=NOON)
    delete_mark(session, finding.marks[0].id, photo.id, NOON)

    assert finding.deleted_at is None


def test_a_mark_is_moved_and_its_finding_renamed(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    (mark,) = finding.marks
    edit_mark(session, mark.id, photo.id, points=[(20, 20), (220, 20)])
    edit_mark(session, mark.id, photo.id, kind="peel-tear")

    assert mark.points == [[20, 20], [220, 20]]
    assert finding.kind == "peel-tear"


def test_a_mark_of_another_photo_cannot_be_reached(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    other = make_photo(session, photo.build)
    with pytest.raises(NotFoundError):
        edit_mark(session, finding.marks[0].id, other.id, points=[(1, 1), (9, 9)])


def test_an_outcome_closes_and_open_takes_it_back(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    decide(session, finding.id, Outcome.REPAIR, reason="", at=NOON)
    assert not finding.is_open and finding.closed_at == NOON

    decide(session, finding.id, Outcome.OPEN, reason="", at=NOON)
    assert finding.is_open and finding.closed_at is None


def test_what_was_decided_is_not_decided_otherwise_until_it_is_open_again(
    session: Session, photo
) -> None:
    finding = make_finding(session, photo)
    decide(session, finding.id, Outcome.REPAIR, reason="patched", at=NOON)
    later = NOON + timedelta(hours=3)

    with pytest.raises(ChangedMeanwhileError, match=r"2 Mar 2026.*: repair \(patched\)"):
        decide(session, finding.id, Outcome.SCRAP, reason="", at=later)
    # The same once more is a second tap.
    decide(session, finding.id, Outcome.REPAIR, reason="patched", at=later)
    assert (finding.outcome, finding.closed_at) == (Outcome.REPAIR, NOON)

    decide(session, finding.id, Outcome.OPEN, reason="", at=later)
    decide(session, finding.id, Outcome.SCRAP, reason="", at=later)
    assert finding.outcome is Outcome.SCRAP


def test_a_concession_needs_a_reason(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    with pytest.raises(FormError, match="concession needs a reason"):
        decide(session, finding.id, Outcome.CONCESSION, reason="  ", at=NOON)
    assert finding.is_open


def test_a_cause_is_confirmed_ruled_out_and_withdrawn(session: Session, photo) -> None:
    from defectlog.guide import library

    finding = make_finding(session, photo)
    cause = library.kind("dry-spot").causes[0].key
    judge_cause(session, finding.id, cause, False, seen="", at=NOON)
    assert finding.confirmed_cause is None
    judge_cause(session, finding.id, cause, True, seen="fan from the tape joint", at=NOON)
    assert finding.confirmed_cause == cause and len(finding.verdicts) == 1
    withdraw_verdict(session, finding.id, cause)
    assert finding.verdicts == []

    with pytest.raises(NotFoundError):
        judge_cause(session, finding.id, "moon-phase", True, seen="", at=NOON)


def test_an_empty_fix_is_refused(session: Session, photo) -> None:
    finding = make_finding(session, photo)
    with pytest.raises(FormError, match="what was done"):
        record_fix(session, finding.id, " ", minutes=None, at=NOON)
