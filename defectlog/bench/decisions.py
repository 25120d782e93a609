"""Decide what happens to the part for one finding, and write down what its checks said."""

from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.findings import find_finding
from defectlog.bench.kinds import find_kind
from defectlog.bench.remarks import remark
from defectlog.bench.who import who_writes
from defectlog.errors import ChangedMeanwhileError, FieldError, FormError, NotFoundError
from defectlog.records import CauseVerdict, Decision, Finding, Outcome


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


class ClosedNoteError(FieldError):
    """To the note of a closed finding things are added; what stands there stays."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(
            "note",
            f"Finding {finding.id} is closed ({finding.outcome.value}), what its note says stays",
            "write below it, or open the finding again first",
        )


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
