"""House notes: what the shop wants to read again under a kind."""

import secrets
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind
from defectlog.bench.own_words import see_ours_unchanged, text_faults, tidy
from defectlog.errors import FormError, NotFoundError
from defectlog.records import HouseNote


@dataclass(frozen=True, slots=True)
class HouseNotes:
    """The notes under a kind, the newest first, and those deleted, the last one first."""

    kept: tuple[HouseNote, ...]
    deleted: tuple[HouseNote, ...]


def notes_of(session: Session, kind: str) -> HouseNotes:
    """The notes under a kind."""
    rows = session.scalars(
        select(HouseNote).where(HouseNote.kind == kind).order_by(HouseNote.id.desc())
    ).all()
    deleted = [row for row in rows if row.deleted_at is not None]
    deleted.sort(key=lambda row: row.deleted_at or row.written_at, reverse=True)
    return HouseNotes(tuple(row for row in rows if row.deleted_at is None), tuple(deleted))


def words_by_kind(session: Session) -> dict[str, list[str]]:
    """What the notes say under each kind, to be searched."""
    words: dict[str, list[str]] = {}
    for row in session.scalars(select(HouseNote).where(HouseNote.deleted_at.is_(None))):
        words.setdefault(row.kind, []).append(row.words)
    return words


def find_note(session: Session, kind: str, number: int) -> HouseNote:
    """The note of that number under that kind, deleted or not."""
    row = session.get(HouseNote, number)
    if row is None or row.kind != kind:
        raise NotFoundError("note", number)
    return row


def add_note(session: Session, kind: str, words: str, *, at: datetime) -> HouseNote:
    """Write a note under a kind."""
    find_kind(session, kind)
    note = HouseNote(uid=secrets.token_hex(12), kind=kind, words=_checked(words), written_at=at)
    session.add(note)
    session.flush()
    return note


def edit_note(
    session: Session, kind: str, number: int, words: str, *, at: datetime, opened_on: str = ""
) -> HouseNote:
    """Put a note into other words; one that was deleted comes back with them.

    Raises
    ------
    NotOursError
        If the note came from another shop.
    ChangedMeanwhileError
        If it is not as the form was opened on (``own_words.state_of``).
    """
    note = find_note(session, kind, number)
    see_ours_unchanged(note, opened_on, "words", "note")
    words = _checked(words)
    if words != note.words:
        note.words, note.changed_at = words, at
    note.deleted_at = None
    session.flush()
    return note


def delete_note(session: Session, kind: str, number: int, *, at: datetime) -> HouseNote:
    """Take a note off the page; it can be brought back."""
    note = find_note(session, kind, number)
    note.deleted_at = at
    session.flush()
    return note


def restore_note(session: Session, kind: str, number: int) -> HouseNote:
    """Bring a deleted note back."""
    note = find_note(session, kind, number)
    note.deleted_at = None
    session.flush()
    return note


def _checked(words: str) -> str:
    faults = list(text_faults("words", "note", words, needed="write what is worth reading again"))
    if faults:
        raise FormError(faults)
    return tidy(words)
