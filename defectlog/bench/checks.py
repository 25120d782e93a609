"""Check: what came of a check of the guide on this part, so that the ranking can go by it."""

from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.findings import find_finding
from defectlog.bench.kinds import find_kind
from defectlog.errors import FieldError, FormError, NotFoundError
from defectlog.records import CheckDone, Finding

MOST_SEEN = 300


def record_check(
    session: Session, number: int, check_key: str, is_positive: bool, *, seen: str, at: datetime
) -> CheckDone:
    """Write down what a check showed; done again, the later result stands.

    Raises
    ------
    NotFoundError
        If the finding's kind has no such check.
    FormError
        If what was seen is too long to keep.
    """
    finding = find_finding(session, number)
    if check_key not in checks_of(session, finding):
        raise NotFoundError("check", check_key)
    seen = seen.strip()
    if len(seen) > MOST_SEEN:
        what = f"That is over {MOST_SEEN} characters"
        raise FormError([FieldError("seen", what, "keep to what the check showed")])
    done = next((row for row in finding.checks if row.check_key == check_key), None)
    if done is None:
        done = CheckDone(check_key=check_key)
        finding.checks.append(done)
    done.is_positive, done.seen, done.at = is_positive, seen, at
    session.flush()
    return done


def withdraw_check(session: Session, number: int, check_key: str) -> Finding:
    """Take the result of a check back, as if it had not been done."""
    finding = find_finding(session, number)
    finding.checks[:] = [row for row in finding.checks if row.check_key != check_key]
    session.flush()
    return finding


def checks_of(session: Session, finding: Finding) -> set[str]:
    """The keys of all checks of the finding's kind."""
    return {c.key for cause in find_kind(session, finding.kind).causes for c in cause.checks}


def results_of(session: Session, finding: Finding) -> dict[str, CheckDone]:
    """What was found, by check key. A result from when the finding had another kind is left out."""
    known = checks_of(session, finding)
    return {row.check_key: row for row in finding.checks if row.check_key in known}
