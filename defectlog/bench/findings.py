"""Mark what is wrong, make a finding of it, decide what happens to the part."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind
from defectlog.bench.mark_points import Point, check_points
from defectlog.bench.remarks import remark
from defectlog.bench.who import who_writes
from defectlog.errors import (
    ChangedMeanwhileError,
    DefectlogError,
    FieldError,
    FormError,
    NotFoundError,
)
from defectlog.records import (
    CauseVerdict,
    Decision,
    Finding,
    Mark,
    Outcome,
    Photo,
    Shape,
)


class ConcessionNeedsReasonError(FieldError):
    """A part is used as it is only for a reason that somebody can read later."""

    def __init__(self) -> None:
        super().__init__(
            "reason",
            "A concession needs a reason",
            "write who agreed to use the part as it is, and why",
        )


class AlreadyDecidedError(FieldError):
    """A finding was closed from another screen; what was decided is not replaced unseen."""

    def __init__(self, finding: Finding) -> None:
        assert finding.closed_at is not None
        closed = finding.closed_at.astimezone()
        reason = f" ({finding.reason})" if finding.reason else ""
        super().__init__(
            "outcome",
            f"Finding {finding.id} was closed already, on {closed:%a} {closed.day} "
            f"{closed:%b %Y, %H:%M}: {finding.outcome.value}{reason}",
            "open it again first if something else is to happen to the part",
        )


class DecidedAnewError(FieldError):
    """A finding was opened and closed again elsewhere; that is not undone unseen."""

    def __init__(self, finding: Finding) -> None:
        reason = f" ({finding.reason})" if finding.reason else ""
        super().__init__(
            "outcome",
            f"Finding {finding.id} was decided anew meanwhile: {finding.outcome.value}{reason}",
            "look at that first, then open it again if you still want to",
        )


class ClosedFindingError(DefectlogError):
    """A closed finding is a record: what it rests on is not changed under it."""

    def __init__(self, finding: Finding, what: str) -> None:
        self.finding = finding
        super().__init__(
            f"Finding {finding.id} is closed ({finding.outcome.value}), {what}",
            "open it again first; nothing was changed",
        )


class ClosedNoteError(FieldError):
    """To the note of a closed finding things are added; what stands there stays."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(
            "note",
            f"Finding {finding.id} is closed ({finding.outcome.value}), what its note says stays",
            "write below it, or open the finding again first",
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


def decide(
    session: Session,
    number: int,
    outcome: Outcome,
    *,
    reason: str,
    at: datetime,
    seen: int | None = None,
) -> Finding:
    """Decide what happens to the part for one finding.

    ``Outcome.OPEN`` takes the decision back, which is needed before another one; ``seen`` is how
    many decisions there were on the page it was taken back from, if that is known.

    Raises
    ------
    FormError
        If a concession has no reason.
    ChangedMeanwhileError
        If it was decided otherwise before.
    """
    finding = find_finding(session, number)
    reason = reason.strip()
    if not finding.is_open and outcome is not Outcome.OPEN:
        if (finding.outcome, finding.reason) == (outcome, reason):
            return finding
        raise ChangedMeanwhileError([AlreadyDecidedError(finding)])
    if outcome is Outcome.CONCESSION and not reason:
        raise FormError([ConcessionNeedsReasonError()])
    if finding.is_open and outcome is Outcome.OPEN:
        return finding
    if outcome is Outcome.OPEN and seen is not None and seen != len(finding.decisions):
        raise ChangedMeanwhileError([DecidedAnewError(finding)])
    finding.outcome = outcome
    finding.reason = reason
    finding.closed_at = None if outcome is Outcome.OPEN else at
    # What was decided before stays on record, with who and when.
    finding.decisions.append(
        Decision(outcome=outcome, reason=reason, at=at, by=who_writes(session))
    )
    session.flush()
    return finding


def judge_cause(
    session: Session, number: int, cause: str, is_confirmed: bool, *, seen: str, at: datetime
) -> Finding:
    """Write down what a check said of a cause; said again, the later word stands."""
    finding = find_finding(session, number)
    if cause not in {entry.key for entry in find_kind(session, finding.kind).causes}:
        raise NotFoundError("cause", cause)
    verdict = next((v for v in finding.verdicts if v.cause == cause), None)
    if verdict is None:
        verdict = CauseVerdict(cause=cause)
        finding.verdicts.append(verdict)
    verdict.is_confirmed, verdict.seen, verdict.at = is_confirmed, seen.strip(), at
    session.flush()
    return finding


def withdraw_verdict(session: Session, number: int, cause: str) -> Finding:
    """Take back what was said of a cause."""
    finding = find_finding(session, number)
    finding.verdicts[:] = [v for v in finding.verdicts if v.cause != cause]
    session.flush()
    return finding


def save_note(session: Session, number: int, note: str, seen: str | None = None) -> Finding:
    """Keep a remark on a finding; ``seen`` is the remark it was typed over, if that is known."""
    finding = find_finding(session, number)
    written = remark(finding.note, note, seen)
    if not finding.is_open and not written.startswith(finding.note):
        raise FormError([ClosedNoteError(finding)])
    finding.note = written
    return finding


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
