"""Causes and fixes of the shop's own in the records: found, deleted and brought back alike."""

from datetime import datetime
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import forget_library
from defectlog.errors import NotFoundError
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
    return _dated(session, find_own(session, table, kind, key), None)


def _dated(session: Session, row: Row, at: datetime | None) -> Row:
    row.deleted_at = at
    session.flush()
    forget_library(session)
    return row
