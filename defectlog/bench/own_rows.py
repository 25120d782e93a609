"""What causes and fixes of the shop's own have in common: found, opened, deleted, brought back."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import forget_library
from defectlog.bench.own_words import see_ours_unchanged
from defectlog.bench.parts import one_line
from defectlog.errors import FieldError, NotFoundError
from defectlog.guide.entry import Cause, Fix
from defectlog.records import OwnCause, OwnFix

Row = TypeVar("Row", bound=OwnCause | OwnFix)

_CALLED = {OwnCause: "cause", OwnFix: "fix"}


def find_own(session: Session, table: type[Row], kind: str, key: str) -> Row:
    """The own cause or fix of this key under that kind, deleted or not.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    row = session.scalar(select(table).where(table.kind == kind, table.key == key))
    if row is None:
        raise NotFoundError(f"{_CALLED[table]} of this shop's own", key)
    return row


def open_own(session: Session, table: type[Row], kind: str, key: str, opened_on: str) -> Row:
    """The same, to be put into other words.

    Raises
    ------
    NotOursError
        If it came from another shop.
    ChangedMeanwhileError
        If it is not as the form was opened on (``own_words.state_of``).
    """
    row = find_own(session, table, kind, key)
    see_ours_unchanged(row, opened_on, "title", _CALLED[table])
    return row


def title_taken(
    title: str, others: Iterable[Cause | Fix], key: str | None, what: str
) -> Iterator[FieldError]:
    """``what`` is wrong if another than that of ``key`` is called so already."""
    wanted = one_line(title).casefold()
    if any(one.title.casefold() == wanted and one.key != key for one in others):
        yield FieldError("title", what, "change that one, or say it otherwise")


def deleted_own(session: Session, table: type[Row], kind: str) -> list[Row]:
    """Those of a kind that were deleted and can be brought back, the last one first."""
    query = select(table).where(table.kind == kind, table.deleted_at.is_not(None))
    return list(session.scalars(query.order_by(table.deleted_at.desc())))


def delete_own(session: Session, table: type[Row], kind: str, key: str, *, at: datetime) -> Row:
    """Take a cause or a fix off the page; what findings say of it stays.

    Findings that confirmed a deleted cause count as something else.
    """
    return _dated(session, find_own(session, table, kind, key), at)


def restore_own(session: Session, table: type[Row], kind: str, key: str) -> Row:
    """Bring a deleted cause or fix back."""
    return stand(session, find_own(session, table, kind, key))


def stand(session: Session, row: Row) -> Row:
    """Let it stand on the page of its kind with the words it has now, deleted before or not."""
    return _dated(session, row, None)


def _dated(session: Session, row: Row, at: datetime | None) -> Row:
    row.deleted_at = at
    session.flush()
    forget_library(session)
    return row
