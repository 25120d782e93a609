"""What to do next about a finding, in a few words."""

from sqlalchemy.orm import object_session

from defectlog.bench.kinds import library_of
from defectlog.records import Finding


def next_step(finding: Finding) -> str:
    """The one thing the finding waits for."""
    if not finding.is_open:
        return finding.outcome.value.capitalize()
    if not finding.marks:
        return "Mark it on a photo"
    if all(mark.photo.scale is None or not mark.photo.scale.px_per_mm for mark in finding.marks):
        return "Give the photo a scale"
    if finding.confirmed_cause is None and _has_causes(finding):
        return "Find the cause"
    return "Decide the outcome"


def _has_causes(finding: Finding) -> bool:
    """Whether there is a cause to find: a kind of the shop's own may have none yet."""
    session = object_session(finding)
    kind = library_of(session).find(finding.kind) if session else None
    return kind is None or bool(kind.causes)
