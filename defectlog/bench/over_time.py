"""One finding through the life of its part: its size on each photo, stage after stage."""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.before_after import earlier_photos
from defectlog.bench.sizes import largest_of
from defectlog.records import Finding, LaterLook, Mark, Photo, PhotoStage, Said, Shape


@dataclass(frozen=True, slots=True)
class Look:
    """One photo of a finding, the size it has there, and where; a spot has none.

    ``gone`` is how many of the marks of earlier photos were seen to be gone on this one.
    """

    photo: Photo
    size_words: str
    marks: tuple[Mark, ...]
    gone: int = 0

    @property
    def has_size(self) -> bool:
        return any(mark.shape is not Shape.POINT for mark in self.marks)


def looks_over_time(session: Session, finding: Finding) -> list[Look]:
    """The photos that show a finding or show it gone, in the order of the part's life."""
    stages = list(PhotoStage)
    gone: dict[int, int] = {}
    photos = {mark.photo_id: mark.photo for mark in finding.marks if mark.photo.deleted_at is None}
    for look in _gone_of(session, finding):
        if look.photo.deleted_at is None:
            photos[look.photo_id] = look.photo
            gone[look.photo_id] = gone.get(look.photo_id, 0) + 1
    ordered = sorted(photos.values(), key=lambda photo: (stages.index(photo.stage), photo.id))
    looks = []
    for photo in ordered:
        marks = tuple(mark for mark in finding.marks if mark.photo_id == photo.id)
        looks.append(Look(photo, largest_of(marks).words, marks, gone.get(photo.id, 0)))
    return looks


def before_and_after(finding: Finding) -> tuple[Photo, Photo] | None:
    """The first photo a finding is marked on, and the last one of the same face after it."""
    marked = [mark.photo for mark in finding.marks if mark.photo.deleted_at is None]
    for before in sorted(set(marked), key=lambda photo: photo.id):
        later = [photo for photo in finding.build.photos if before in earlier_photos(photo)]
        if later:
            return before, max(later, key=lambda photo: len(earlier_photos(photo)))
    return None


def _gone_of(session: Session, finding: Finding) -> list[LaterLook]:
    return list(
        session.scalars(
            select(LaterLook)
            .join(LaterLook.mark)
            .where(Mark.finding_id == finding.id, LaterLook.said == Said.GONE)
        )
    )
