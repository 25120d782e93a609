"""Mark what is wrong, and make a finding of it."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind
from defectlog.bench.mark_points import Point, check_points
from defectlog.errors import (
    DefectlogError,
    FieldError,
    NotFoundError,
)
from defectlog.records import (
    Finding,
    Mark,
    Outcome,
    Photo,
    Shape,
)


class ClosedFindingError(DefectlogError):
    """A closed finding is a record: what it rests on is not changed under it."""

    def __init__(self, finding: Finding, what: str) -> None:
        self.finding = finding
        super().__init__(
            f"Finding {finding.id} is closed ({finding.outcome.value}), {what}",
            "open it again first; nothing was changed",
        )


def find_photo(session: Session, number: int) -> Photo:
    """The photo of that number, unless it was deleted."""
    photo = session.get(Photo, number)
    if photo is None or photo.deleted_at is not None:
        raise NotFoundError("photo", number)
    return photo


def find_finding(session: Session, number: int) -> Finding:
    """The finding of that number, unless it went with its last mark."""
    finding = session.get(Finding, number)
    if finding is None or finding.deleted_at is not None:
        raise NotFoundError("finding", number)
    return finding


def list_findings(session: Session, *, only_open: bool = False) -> list[Finding]:
    """The findings, newest first."""
    query = select(Finding).where(Finding.deleted_at.is_(None)).order_by(Finding.id.desc())
    if only_open:
        query = query.where(Finding.outcome == Outcome.OPEN)
    return list(session.scalars(query))


def add_mark(
    session: Session,
    photo_number: int,
    shape: Shape,
    points: Sequence[Point],
    *,
    at: datetime,
    kind: str | None = None,
    finding_number: int | None = None,
    client_id: str | None = None,
) -> Mark:
    """Draw a mark: it opens a finding of ``kind``, or joins a finding of the same build.

    A mark that was sent before (same ``client_id``) is found again, not drawn twice.
    """
    photo = find_photo(session, photo_number)
    if client_id:
        sent = session.scalar(select(Mark).where(Mark.client_id == client_id))
        if sent is not None:
            return sent
    checked = check_points(shape, points, photo)
    if finding_number is not None:
        finding = _joined(session, finding_number, photo)
    else:
        finding = open_finding(session, photo.build_id, kind or "", at)
    mark = Mark(
        photo=photo,
        finding=finding,
        shape=shape,
        points=checked,
        client_id=client_id or None,
        drawn_at=at,
    )
    session.add(mark)
    session.flush()
    _forget_lists(session, finding, photo)
    return mark


def open_finding(session: Session, build_id: int, kind: str, at: datetime) -> Finding:
    """Open a finding of a kind on a build, without a mark yet."""
    _known_kind(session, kind)
    finding = Finding(build_id=build_id, kind=kind, opened_at=at)
    session.add(finding)
    session.flush()
    return finding


def edit_mark(
    session: Session,
    mark_number: int,
    photo_number: int,
    *,
    points: Sequence[Point] | None = None,
    kind: str | None = None,
    finding_number: int | None = None,
) -> Mark:
    """Move or reshape a mark, move it to another finding, or rename its finding's kind."""
    mark = find_mark(session, mark_number, photo_number)
    keep_if_closed(mark.finding, "its marks and its kind stay as they are")
    if points is not None:
        mark.points = check_points(mark.shape, points, mark.photo)
    if finding_number is not None and finding_number != mark.finding_id:
        left = mark.finding
        mark.finding = _joined(session, finding_number, mark.photo)
        session.flush()
        _forget_lists(session, left, mark.finding, mark.photo)
        _drop_if_bare(left, mark.photo.received_at)
    elif kind is not None:
        _known_kind(session, kind)
        mark.finding.kind = kind
    session.flush()
    return mark


def delete_mark(session: Session, mark_number: int, photo_number: int, at: datetime) -> Mark:
    """Take a mark off the photo; a finding nobody has worked on goes with its last mark."""
    mark = find_mark(session, mark_number, photo_number)
    keep_if_closed(mark.finding, "its marks stay")
    mark.deleted_at = at
    session.flush()
    _forget_lists(session, mark.finding, mark.photo)
    _drop_if_bare(mark.finding, at)
    return mark


def restore_mark(session: Session, mark_number: int, photo_number: int) -> Mark:
    """Bring a deleted mark back, and its finding if that went with it."""
    mark = session.get(Mark, mark_number)
    if mark is None or mark.photo_id != find_photo(session, photo_number).id:
        raise NotFoundError("mark", mark_number)
    mark.deleted_at = mark.finding.deleted_at = None
    session.flush()
    _forget_lists(session, mark.finding, mark.photo)
    return mark


def find_mark(session: Session, number: int, photo_number: int) -> Mark:
    """The mark of that number on that photo."""
    mark = session.get(Mark, number)
    if mark is None or mark.deleted_at is not None:
        raise NotFoundError("mark", number)
    if mark.photo_id != find_photo(session, photo_number).id:
        raise NotFoundError("mark", number)
    return mark


def keep_if_closed(finding: Finding, what: str) -> None:
    """Refuse a change to what a closed finding rests on; ``what`` says what stays."""
    if not finding.is_open:
        raise ClosedFindingError(finding, what)


def _joined(session: Session, finding_number: int, photo: Photo) -> Finding:
    """The finding a mark joins; one that went with its last mark is back with this one."""
    finding = session.get(Finding, finding_number)
    if finding is None:
        raise NotFoundError("finding", finding_number)
    if finding.build_id != photo.build_id:
        raise FieldError(
            "finding_id",
            f"Finding {finding_number} belongs to another build",
            "choose one of this build, or a kind to open a new one",
        )
    finding.deleted_at = None
    return finding


def _known_kind(session: Session, key: str) -> None:
    if not key:
        raise FieldError("kind", "The mark has no kind yet", "choose what it is")
    find_kind(session, key)


def _drop_if_bare(finding: Finding, at: datetime) -> None:
    done = finding.verdicts or finding.checks or finding.fixes
    worked_on = done or finding.lessons or finding.note
    if not finding.marks and not worked_on and finding.is_open:
        finding.deleted_at = at


def _forget_lists(session: Session, *owners: Finding | Photo) -> None:
    """The lists of marks are filtered by the database: read them anew."""
    for owner in owners:
        session.expire(owner, ["marks"])
