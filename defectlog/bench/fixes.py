"""Put right: what was done to the part, and whether it held when somebody looked again."""

from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.findings import find_finding
from defectlog.bench.kinds import find_kind
from defectlog.errors import FieldError, FormError, NotFoundError
from defectlog.records import FixDone, FixResult


def record_fix(
    session: Session,
    number: int,
    words: str,
    *,
    minutes: float | None,
    at: datetime,
    fix_key: str = "",
) -> FixDone:
    """Write down what was done to the part, and which fix of the guide it was, if it was one.

    Raises
    ------
    FormError
        If it says nothing or too much, the minutes are out of range, or the kind has no such fix.
    """
    finding = find_finding(session, number)
    words = words.strip()
    faults = []
    if not words:
        faults.append(FieldError("words", "It does not say what was done", "write it in a line"))
    if len(words) > 2000:
        faults.append(FieldError("words", "That is over 2000 characters", "shorten it"))
    if minutes is not None and not 0 <= minutes <= 100_000:
        faults.append(
            FieldError("minutes", "The time is out of range", "enter minutes, 0 to 100 000")
        )
    fixes = {fix.key for fix in find_kind(session, finding.kind).fixes}
    if fix_key and fix_key not in fixes:
        what = "The guide has no such fix for this kind"
        faults.append(FieldError("fix_key", what, "choose one of the list, or none"))
    if faults:
        raise FormError(faults)
    fix = FixDone(words=words, minutes=minutes, at=at, fix_key=fix_key or None)
    finding.fixes.append(fix)
    session.flush()
    return fix


def look_again(
    session: Session, number: int, fix_number: int, result: FixResult | None, *, at: datetime
) -> FixDone:
    """Write down whether a fix held; ``None`` takes that back, as if nobody had looked yet."""
    finding = find_finding(session, number)
    fix = next((one for one in finding.fixes if one.id == fix_number), None)
    if fix is None:
        raise NotFoundError("fix", fix_number)
    fix.result = result
    fix.looked_at = None if result is None else at
    session.flush()
    return fix
