"""What to do next about a finding, in a few words."""

from defectlog.records import Finding


def next_step(finding: Finding) -> str:
    """The one thing the finding waits for."""
    if not finding.is_open:
        return finding.outcome.value.capitalize()
    if not finding.marks:
        return "Mark it on a photo"
    if all(mark.photo.scale is None or not mark.photo.scale.px_per_mm for mark in finding.marks):
        return "Give the photo a scale"
    if finding.confirmed_cause is None:
        return "Find the cause"
    return "Decide the outcome"
