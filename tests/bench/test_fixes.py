"""Fixes: what was done, which of the guide's it was, and whether it held."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.fixes import look_again, record_fix
from defectlog.errors import FormError, NotFoundError
from defectlog.guide import library
from defectlog.records import FixResult
from tests.builders import NOON, make_build, make_finding, make_photo

FIX = library.kind("dry-spot").fixes[0]


@pytest.fixture
def finding(session: Session):
    return make_finding(session, make_photo(session, make_build(session)))


def test_a_fix_may_be_one_of_the_guides_or_none(session: Session, finding) -> None:
    named = record_fix(session, finding.id, "By the book", minutes=35, at=NOON, fix_key=FIX.key)
    free = record_fix(session, finding.id, "Our own way", minutes=None, at=NOON)

    assert (named.fix_key, free.fix_key) == (FIX.key, None)
    assert named.result is free.result is None
    with pytest.raises(FormError, match="no such fix"):
        record_fix(session, finding.id, "By heart", minutes=1, at=NOON, fix_key="moonlight")


def test_a_fix_is_looked_at_again_and_that_can_be_taken_back(session: Session, finding) -> None:
    fix = record_fix(session, finding.id, "By the book", minutes=35, at=NOON)

    look_again(session, finding.id, fix.id, FixResult.FAILED, at=NOON)
    assert (fix.result, fix.looked_at) == (FixResult.FAILED, NOON)
    look_again(session, finding.id, fix.id, None, at=NOON)
    assert (fix.result, fix.looked_at) == (None, None)


def test_a_fix_of_another_finding_is_not_found(session: Session, finding) -> None:
    other = make_finding(session, finding.marks[0].photo)
    fix = record_fix(session, other.id, "By the book", minutes=35, at=NOON)

    with pytest.raises(NotFoundError):
        look_again(session, finding.id, fix.id, FixResult.HELD, at=NOON)
