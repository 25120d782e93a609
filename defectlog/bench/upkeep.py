"""When the records were last looked over and last backed up, and what came of it.

Kept in a small file beside the records and not in them: it must be readable when they are not,
and a database found damaged must not be written to.
"""

import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

from defectlog.errors import DefectlogError, FieldError
from defectlog.photos.renditions import PhotoStore
from defectlog.photos.turns import took
from defectlog.records.session import Records, sqlite_address

RECORDS_FILE = "records.sqlite"
PHOTOS_FOLDER = "photos"
VERIFIED, BACKED_UP = "verify", "backup"

_NOTES = "upkeep.json"
_LOCK = "upkeep.lock"


class NoRecordsError(DefectlogError):
    """The folder that was named holds no records."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"There are no records in {folder}", "name the folder they lie in with --folder"
        )


class BusyError(DefectlogError):
    """Something that may not happen at the same time is going on."""

    def __init__(self) -> None:
        super().__init__(
            "A backup is being made of these records, or the bin is being emptied",
            "try again when that is done; nothing was changed",
        )


@dataclass(frozen=True, slots=True)
class Kept:
    """The records and photos of one workshop, opened as they are."""

    folder: Path
    records: Records
    store: PhotoStore


@dataclass(frozen=True, slots=True)
class UpkeepNote:
    """What came of the last time something was done for the records."""

    at: datetime
    is_well: bool
    words: str


@contextmanager
def opened(folder: Path, database: str | None = None) -> Iterator[Kept]:
    """Open records that are there already; none are made, and none are brought up to date."""
    if database is None and not (folder / RECORDS_FILE).is_file():
        raise NoRecordsError(folder)
    records = Records(checked_address(database) or sqlite_address(folder / RECORDS_FILE))
    try:
        yield Kept(folder, records, PhotoStore(folder / PHOTOS_FOLDER))
    finally:
        records.close()


def checked_address(database: str | None) -> str | None:
    """The address of a database, if it is one."""
    try:
        if database is not None:
            make_url(database)
    except ArgumentError:
        raise FieldError(
            "database",
            "The address of the database cannot be read",
            "write it like postgresql+psycopg://name@host/database",
        ) from None
    return database


def note_upkeep(folder: Path, deed: str, note: UpkeepNote) -> None:
    """Write down what came of it; a folder that cannot be written takes no notes."""
    noted = _notes(folder)
    noted[deed] = {
        "at": note.at.isoformat(),
        "is_well": note.is_well,
        "words": note.words,
    }
    passing = folder / f"{_NOTES}.{secrets.token_hex(4)}.part"
    with suppress(OSError):
        try:
            passing.write_text(json.dumps(noted, ensure_ascii=False, indent=1), "utf-8")
            os.replace(passing, folder / _NOTES)
        finally:
            passing.unlink(missing_ok=True)


def last_upkeep(folder: Path, deed: str) -> UpkeepNote | None:
    """What came of the last time, if there was one."""
    said = _notes(folder).get(deed)
    try:
        return said and UpkeepNote(
            datetime.fromisoformat(said["at"]), bool(said["is_well"]), str(said["words"])
        )
    except (KeyError, TypeError, ValueError):
        return None


def _notes(folder: Path) -> dict[str, Any]:
    try:
        noted = json.loads((folder / _NOTES).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return noted if isinstance(noted, dict) else {}


@contextmanager
def holding(folder: Path) -> Iterator[None]:
    """Keep others from emptying the bin or backing up meanwhile; ends with the process.

    Raises
    ------
    BusyError
        If another process holds it.
    """
    handle = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _lock(handle)
        yield
    finally:
        os.close(handle)


def _lock(handle: int) -> None:
    try:
        free = took(handle)
    except OSError as error:
        raise BusyError from error
    if not free:
        raise BusyError
