"""One finding through the life of its part: its size on each photo, stage after stage."""

from dataclasses import dataclass

from defectlog.bench.sizes import largest_of
from defectlog.records import Finding, Mark, Photo, PhotoStage, Shape


@dataclass(frozen=True, slots=True)
class Look:
    """One photo of a finding, the size it has there, and where; a spot has none."""

    photo: Photo
    size_words: str
    marks: tuple[Mark, ...]

    @property
    def has_size(self) -> bool:
        return any(mark.shape is not Shape.POINT for mark in self.marks)


def looks_over_time(finding: Finding) -> list[Look]:
    """The photos a finding is marked on, in the order of the part's life, with its size on each."""
    stages = list(PhotoStage)
    photos = {mark.photo_id: mark.photo for mark in finding.marks if mark.photo.deleted_at is None}
    ordered = sorted(photos.values(), key=lambda photo: (stages.index(photo.stage), photo.id))
    looks = []
    for photo in ordered:
        marks = tuple(mark for mark in finding.marks if mark.photo_id == photo.id)
        looks.append(Look(photo, largest_of(marks).words, marks))
    return looks
