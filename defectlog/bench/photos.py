"""What a photo shows, said afterwards; and a photo taken off its build."""

from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.findings import delete_mark, find_photo
from defectlog.bench.remarks import remark
from defectlog.errors import FieldError
from defectlog.records import Face, Photo, PhotoStage

NOTE_LENGTH = 2000


def describe_photo(
    session: Session,
    number: int,
    *,
    face: Face | None = None,
    stage: PhotoStage | None = None,
    note: str | None = None,
    seen: str | None = None,
) -> Photo:
    """Change the face, the stage or the note of a photo; what is None stays as it was.

    ``seen`` is the note that ``note`` was written over. Where another screen has written one
    meanwhile, both are kept, the earlier one first.
    """
    photo = find_photo(session, number)
    if note is not None:
        note = _short_enough(remark(photo.note, _short_enough(note), seen))
    if face is not None:
        photo.face = face
    if stage is not None:
        photo.stage = stage
    if note is not None:
        photo.note = note
    return photo


def _short_enough(note: str) -> str:
    if len(note) > NOTE_LENGTH:
        raise FieldError("note", f"The note is over {NOTE_LENGTH} characters", "shorten it")
    return note


def delete_photo(session: Session, number: int, at: datetime) -> Photo:
    """Take a photo off its build, and its marks with it; the file itself stays on the disk.

    The same photo sent again is back, without the marks.
    """
    photo = find_photo(session, number)
    for mark in list(photo.marks):
        delete_mark(session, mark.id, photo.id, at)
    photo.deleted_at = at
    session.flush()
    session.expire(photo.build, ["photos", "findings"])
    return photo
