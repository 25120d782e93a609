"""One finding through the life of its part: its size on each photo, stage after stage."""

from dataclasses import dataclass

from defectlog.bench.sizes import largest_of
from defectlog.records import Finding, Photo, PhotoStage


@dataclass(frozen=True, slots=True)
class Look:
    """One photo of a finding and the size it has there."""

    photo: Photo
    size_words: str


def looks_over_time(finding: Finding) -> list[Look]:
    """The photos a finding is marked on, in the order of the part's life, with its size on each."""
    stages = list(PhotoStage)
    photos = {mark.photo_id: mark.photo for mark in finding.marks if mark.photo.deleted_at is None}
    ordered = sorted(photos.values(), key=lambda photo: (stages.index(photo.stage), photo.id))
    return [
        Look(photo, largest_of(m for m in finding.marks if m.photo_id == photo.id).words)
        for photo in ordered
    ]
