"""Open the records for work: made if new, brought up to date, tidied; or a sentence why not."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DatabaseError, OperationalError

from defectlog.bench.bin import let_go_of_what_is_old
from defectlog.bench.strays import tell_strays
from defectlog.bench.upkeep import PHOTOS_FOLDER, RECORDS_FILE, Kept, checked_address
from defectlog.errors import DefectlogError
from defectlog.photos.limits import PhotoLimits
from defectlog.photos.renditions import PhotoStore
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address


class CannotStartError(DefectlogError):
    """The folder or the database does not let itself be used."""


def open_for_work(folder: Path, database: str | None = None) -> Kept:
    """The records in a folder, ready to be written; nothing is made where one cannot write.

    Raises
    ------
    CannotStartError
        If the folder cannot be written, or the database cannot be read or written.
    NewerRecordsError, NoCopyError
        As their names say.
    """
    limits = PhotoLimits.of(os.environ)
    with start_faults(folder, database):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _see_that_it_can_be_written(folder)
        records = Records(checked_address(database) or sqlite_address(folder / RECORDS_FILE))
        migrate(records.engine, copy_beside=folder / RECORDS_FILE)
        photos = folder / PHOTOS_FOLDER
        store = PhotoStore(photos, max_bytes=limits.max_bytes, max_px=limits.max_px)
        store.originals.remove_unfinished()
        with records.read() as session:
            tell_strays(session, store)
        let_go_of_what_is_old(records, store, folder)
    return Kept(folder, records, store)


def _see_that_it_can_be_written(folder: Path) -> None:
    probe = folder / f".probe-{os.getpid()}"
    try:
        probe.write_bytes(b"0")
    finally:
        probe.unlink(missing_ok=True)


@contextmanager
def start_faults(folder: Path, database: str | None = None) -> Iterator[None]:
    """Say in a sentence why the records cannot be worked with."""
    try:
        yield
    except OSError as error:
        raise CannotStartError(
            f"The folder {folder} cannot be written ({os.strerror(error.errno or 5)})",
            "free some room, look whether its disk is read-only, or name another one with --folder",
        ) from error
    except OperationalError as error:
        if database is not None:
            raise CannotStartError(
                f"The database of the records cannot be reached ({_first_line(error)})",
                "check its address, its name and password, and that its server runs",
            ) from error
        raise CannotStartError(
            f"The records in {folder} cannot be reached ({_first_line(error)})",
            "look whether another program holds them and whether the disk is full or read-only",
        ) from error
    except (DatabaseError, sqlite3.DatabaseError) as error:
        raise CannotStartError(
            f"The records in {folder} are damaged ({_first_line(error)})",
            "bring the last good backup back with defectlog restore; nothing was changed",
        ) from error


def _first_line(error: Exception) -> str:
    said = str(getattr(error, "orig", error))
    return (said.splitlines() or ["no reason given"])[0]
