"""Bring the records alone back from the copy that is made before an upgrade; the photos stay."""

import os
import secrets
import sqlite3
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import DatabaseError

from defectlog.bench.in_use import see_that_nobody_uses
from defectlog.bench.restore import DamagedBackupError, OccupiedError, into_database
from defectlog.bench.upkeep import RECORDS_FILE, checked_address
from defectlog.disk import flush_folder
from defectlog.errors import FieldError
from defectlog.records.migrating import copy_sqlite, migrate
from defectlog.records.session import Records, sqlite_address

_HEADER = b"SQLite format 3\0"


def is_copy_of_records(file: Path) -> bool:
    """Whether a file is a database, and no archive of records and photos."""
    with suppress(OSError), file.open("rb") as source:
        return source.read(len(_HEADER)) == _HEADER
    return False


def go_back(
    copy: Path, folder: Path, *, at: datetime, replaces: bool = False, database: str | None = None
) -> str:
    """Put the records of a copy in place, as this version keeps them; what was done, in words.

    They come into the folder, where the photos are, or into ``database``, which must be empty.
    Records that are in the folder are left alone, unless ``replaces``: then they are kept beside.

    Raises
    ------
    DamagedBackupError, NewerRecordsError, OccupiedError, InUseError, FieldError
        Nothing was changed then.
    """
    checked_address(database)
    if not folder.is_dir():
        raise FieldError(
            "folder",
            f"There is no folder {folder}, and a copy of the records holds no photos",
            "name the folder the photos are in with --folder",
        )
    place = folder / RECORDS_FILE
    if database is None and place.exists() and not replaces:
        raise OccupiedError(
            folder, "say --replace, which keeps beside it what is there now; stop defectlog first"
        )
    see_that_nobody_uses(folder)
    passing = folder / f".{RECORDS_FILE}-{secrets.token_hex(4)}.part"
    try:
        _take(copy, passing)
        if database is not None:
            into_database(passing, database)
            return f"The records of {copy.name} are in the database."
        beside = _set_aside(place, at)
        os.replace(passing, place)
        flush_folder(folder)
    finally:
        passing.unlink(missing_ok=True)
    kept = f" Those that were there before are kept in {beside}." if beside else ""
    return f"The records of {copy.name} are in {folder}.{kept}"


def _take(copy: Path, passing: Path) -> None:
    try:
        copy_sqlite(copy, passing)
        with closing(sqlite3.connect(passing)) as read:
            if read.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
                raise DamagedBackupError("its records do not hang together")
            read.execute("SELECT count(*) FROM photo, workshop")
        records = Records(sqlite_address(passing))
        try:
            migrate(records.engine, keeps_copy=False)
        finally:
            records.close()
    except (sqlite3.DatabaseError, DatabaseError) as error:
        raise DamagedBackupError("its records cannot be read") from error


def _set_aside(place: Path, at: datetime) -> Path | None:
    """Copy the records that are there beside themselves, journal included, and end that journal."""
    if not place.exists():
        return None
    beside = place.with_name(f"{place.stem}-before-restore-{at:%Y%m%dT%H%M%S}{place.suffix}")
    try:
        copy_sqlite(place, beside)
        with closing(sqlite3.connect(place)) as one:
            # What is put in its place must not find a journal of the old one.
            one.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.DatabaseError:
        # Damaged: kept as it is, and what lies beside it too.
        for ending in ("", "-journal", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                os.replace(f"{place}{ending}", f"{beside}{ending}")
    return beside
