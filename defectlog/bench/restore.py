"""Bring a workshop back from a backup, on this machine or another one.

All of it is checked in a folder of its own first, and only put in place when it is whole.
"""

import hashlib
import os
import secrets
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import DatabaseError

from defectlog.bench.archive import (
    CHUNK,
    DamagedBackupError,
    Manifest,
    Member,
    NotABackupError,
    read_manifest,
)
from defectlog.bench.in_use import see_that_nobody_uses
from defectlog.bench.upkeep import PHOTOS_FOLDER, RECORDS_FILE, checked_address
from defectlog.disk import flush_file, flush_folder
from defectlog.errors import DefectlogError, FieldError
from defectlog.records.copying import copy_rows, count_rows, is_empty
from defectlog.records.migrating import migrate, step_of
from defectlog.records.session import Records, sqlite_address
from defectlog.units import plural


class OccupiedError(DefectlogError):
    """There is something already where the records are to go."""

    def __init__(self, place: object, do: str) -> None:
        super().__init__(f"{place} is not empty", do)


@dataclass(frozen=True, slots=True)
class Restored:
    """What came back, and where the records that were there before are now."""

    manifest: Manifest
    folder: Path
    kept_beside: Path | None

    @property
    def words(self) -> str:
        held = self.manifest
        words = (
            f"{plural(len(held.originals), 'photo file')} and the records of "
            f"{held.workshop or 'the workshop'}, as of {held.made_at[:16].replace('T', ' ')} UTC, "
            f"are in {self.folder}."
        )
        if self.kept_beside:
            words += f" What was there before is kept in {self.kept_beside}."
        if held.missing or held.damaged:
            lost = plural(len(held.missing) + len(held.damaged), "photo file")
            words += f" {lost} had been lost or damaged before this backup was made."
        return words


def restore(
    file: Path,
    folder: Path,
    *,
    at: datetime,
    replaces: bool = False,
    database: str | None = None,
    tell: Callable[[float], None] | None = None,
) -> Restored:
    """Bring back a backup into ``folder``, and into ``database`` if one is named.

    A folder that holds anything is left alone, unless ``replaces``: then it is kept beside.
    A database that holds tables is left alone in any case.

    Raises
    ------
    NotABackupError, NewerBackupError, DamagedBackupError, OccupiedError, InUseError
        Nothing was changed then.
    """
    checked_address(database)
    folder = folder.absolute()
    if folder.exists() and not folder.is_dir():
        raise OccupiedError(folder, "it is a file: name a folder with --folder")
    is_occupied = folder.is_dir() and any(folder.iterdir())
    if is_occupied and not replaces:
        raise OccupiedError(
            folder,
            "name another folder, or say --replace, which keeps beside it what is there now; "
            "stop defectlog first",
        )
    see_that_nobody_uses(folder)
    arriving = folder.with_name(f".{folder.name}-arriving-{secrets.token_hex(4)}")
    try:
        arriving.mkdir(parents=True, mode=0o700)
        manifest = _unpack(file, arriving, tell)
        _bring_up_to_date(arriving / RECORDS_FILE, manifest)
        if database is not None:
            into_database(arriving / RECORDS_FILE, database)
        _sync_all(arriving)
        # Unpacking may have taken minutes.
        see_that_nobody_uses(folder)
        kept_beside = _put_in_place(arriving, folder, is_occupied, at)
    except OSError as error:
        raise FieldError(
            "folder",
            f"{folder} could not be written ({os.strerror(error.errno or 5)})",
            "choose a folder on a disk with room for all photos; nothing was changed",
        ) from error
    finally:
        shutil.rmtree(arriving, ignore_errors=True)
    return Restored(manifest, folder, kept_beside)


def check_backup(file: Path) -> Manifest:
    """Read a whole backup and check every file of it against its list; nothing is written."""
    with _opened(file) as archive:
        manifest = read_manifest(archive)
        for member in (manifest.records, *manifest.originals):
            _read(archive, member, None)
    return manifest


def _opened(file: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(file)
    except FileNotFoundError as error:
        raise FieldError("file", f"There is no file {file}", "check its name") from error
    except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise NotABackupError(
            "or was cut short", "choose a file that defectlog backup made, whole"
        ) from error
    except OSError as error:
        raise FieldError(
            "file", f"{file} could not be read ({os.strerror(error.errno or 5)})", "check its disk"
        ) from error


def _unpack(file: Path, into: Path, tell: Callable[[float], None] | None) -> Manifest:
    with _opened(file) as archive:
        manifest = read_manifest(archive)
        members = (manifest.records, *manifest.originals)
        needed = sum(member.bytes for member in members)
        if needed > shutil.disk_usage(into).free:
            raise FieldError(
                "folder",
                f"The backup needs {needed / 1e6:.0f} MB, the disk has not so much left",
                "free some room or choose another disk; nothing was changed",
            )
        (into / PHOTOS_FOLDER).mkdir(mode=0o700)
        for number, member in enumerate(members, 1):
            # Names were checked letter by letter: none leads out of the folder.
            place = into / member.name
            place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            _read(archive, member, place)
            if tell is not None:
                tell(number / len(members))
    return manifest


def _read(archive: zipfile.ZipFile, member: Member, place: Path | None) -> None:
    """One file out of the archive, hashed on the way; what is not as listed is refused."""
    digest, size = hashlib.sha256(), 0
    out = None
    try:
        if place is not None:
            out = os.fdopen(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")
        with archive.open(member.name) as source:
            while chunk := source.read(CHUNK):
                size += len(chunk)
                if size > member.bytes:
                    break
                digest.update(chunk)
                if out is not None:
                    out.write(chunk)
        if out is not None:
            out.flush()
            flush_file(out.fileno())
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise DamagedBackupError(f"{member.name} cannot be unpacked") from error
    finally:
        if out is not None:
            out.close()
    if size != member.bytes or digest.hexdigest() != member.sha256:
        raise DamagedBackupError(f"{member.name} is not what its list says")


def _bring_up_to_date(file: Path, manifest: Manifest) -> None:
    """The records of the backup as this version keeps them; each photo has its file."""
    try:
        with closing(sqlite3.connect(file)) as read:
            fine = read.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok"
            loose = read.execute("PRAGMA foreign_key_check").fetchone()
            if not fine or loose:
                raise DamagedBackupError("its records do not hang together")
            spoken_of = {row[0] for row in read.execute("SELECT sha256 FROM photo")}
        records = Records(sqlite_address(file))
        try:
            if step_of(records.engine) != manifest.step:
                raise DamagedBackupError("its records are of another step than its list says")
            with records.engine.connect() as connection:
                if count_rows(connection) != manifest.counts:
                    raise DamagedBackupError("its records have other counts than its list says")
            migrate(records.engine, keeps_copy=False)
        finally:
            records.close()
    except (sqlite3.DatabaseError, DatabaseError) as error:
        raise DamagedBackupError("its records cannot be read") from error
    held = {member.named_for for member in manifest.originals} | set(manifest.missing)
    if spoken_of - held:
        raise DamagedBackupError("its records name photos it does not hold")


def into_database(file: Path, database: str) -> None:
    """Move the records into another database; all rows, or none."""
    from_file, into = Records(sqlite_address(file)), Records(database)
    try:
        with into.engine.connect() as connection:
            if not is_empty(connection):
                raise OccupiedError(
                    "The database", "name an empty one; what is in this one is left alone"
                )
        migrate(into.engine)
        with from_file.engine.connect() as source, into.engine.begin() as target:
            copied = copy_rows(source, target)
            if copied != count_rows(target):
                raise DamagedBackupError("not all of its rows arrived")
    except DatabaseError as error:
        raise FieldError(
            "database",
            "The database could not be reached or written",
            f"check its address, and that it runs ({str(error.orig).splitlines()[0]})",
        ) from error
    finally:
        from_file.close()
        into.close()
    file.unlink()


def _sync_all(folder: Path) -> None:
    for inner in [folder, *(place for place in folder.rglob("*") if place.is_dir())]:
        flush_folder(inner)


def _put_in_place(arriving: Path, folder: Path, is_occupied: bool, at: datetime) -> Path | None:
    """Two renames: a kill between them leaves the old folder under its new name, and whole."""
    beside = None
    if is_occupied:
        beside = folder.with_name(f"{folder.name}-before-restore-{at:%Y%m%dT%H%M%S}")
        os.rename(folder, beside)
    elif folder.exists():
        folder.rmdir()
    os.rename(arriving, folder)
    flush_folder(folder.parent)
    return beside
