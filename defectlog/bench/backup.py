"""One consistent archive of everything, made while the app runs.

First the records are copied at one moment; then the originals that this copy names, which are never
altered; last of all the list of what is in the archive. An archive without its list is no backup.
"""

import hashlib
import os
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from defectlog import __version__
from defectlog.bench.archive import CHUNK, MANIFEST, RECORDS_NAME, Manifest, Member
from defectlog.bench.upkeep import BACKED_UP, Kept, UpkeepNote, holding, note_upkeep
from defectlog.disk import flush_file, flush_folder
from defectlog.errors import DefectlogError
from defectlog.photos.refusals import MissingOriginalError
from defectlog.records.copying import count_rows
from defectlog.records.migrating import copy_from_server, copy_sqlite, newest_step, step_of
from defectlog.records.session import Records, sqlite_address
from defectlog.units import plural

# One moment for all archives: times of packing would make equal archives differ.
_PACKED = (1980, 1, 1, 0, 0, 0)


class UnsoundRecordsError(DefectlogError):
    """The records are damaged: a backup of them would push good ones out."""

    def __init__(self, problem: str) -> None:
        super().__init__(
            f"No backup was made, the records themselves are damaged ({problem})",
            "keep the backups you have and restore the last good one; defectlog verify says more",
        )


class NotWrittenError(DefectlogError):
    """The archive could not be written; what was begun of it is gone again."""

    def __init__(self, place: object, reason: str) -> None:
        super().__init__(
            f"No backup was made, {place} could not be written ({reason})",
            "choose another place, with room for all photos",
        )


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A backup that was made. Sizes are in bytes."""

    manifest: Manifest
    bytes: int

    @property
    def is_whole(self) -> bool:
        return not (self.manifest.missing or self.manifest.damaged)

    @property
    def words(self) -> str:
        made = (
            f"{plural(len(self.manifest.originals), 'photo file')} and the records, "
            f"{self.bytes / 1e6:.1f} MB"
        )
        lost = [
            f"{plural(len(which), 'photo file')} {plain}"
            for which, plain in (
                (self.manifest.missing, "missing already"),
                (self.manifest.damaged, "damaged already"),
            )
            if which
        ]
        return f"{made}; {' and '.join(lost)}, defectlog verify names them" if lost else made


class Backup:
    """A backup on its way: go through ``steps``, then ``made`` says what it holds."""

    def __init__(self, kept: Kept, *, at: datetime) -> None:
        self._kept, self._at = kept, at
        self.made: BackedUp | None = None

    def steps(self, out: BinaryIO) -> Iterator[float]:
        """Write the archive to ``out``, chunk by chunk; gives the share done after each.

        Raises
        ------
        UnsoundRecordsError, BusyError, OSError
            Nothing of use was written then.
        """
        counted = _Counted(out)
        with (
            holding(self._kept.folder),
            tempfile.TemporaryDirectory(prefix="backing-up-", dir=self._kept.folder) as scratch,
        ):
            snapshot = Path(scratch) / RECORDS_NAME
            step = _snapshot(self._kept.records, snapshot)
            hashes, counts, name = _said_by(snapshot)
            with zipfile.ZipFile(counted, "w", allowZip64=True) as archive:  # type: ignore[arg-type]
                packing = _Packing(archive)
                yield from packing.put(snapshot, RECORDS_NAME, packed=True)
                missing = []
                for number, sha256 in enumerate(hashes, 1):
                    try:
                        file = self._kept.store.originals.path(sha256)
                    except MissingOriginalError:
                        missing.append(sha256)
                        continue
                    for _ in packing.put(file, f"photos/{sha256[:2]}/{file.name}"):
                        yield (number - 1) / len(hashes)
                records, *originals = packing.members
                manifest = Manifest(
                    self._at.isoformat(),
                    __version__,
                    step,
                    name,
                    counts,
                    records,
                    tuple(originals),
                    tuple(missing),
                )
                archive.writestr(_entry(MANIFEST, packed=True), manifest.as_json())
        self.made = BackedUp(manifest, counted.bytes)
        yield 1.0

    def is_handed_over(self) -> BackedUp:
        """Note that the archive has left whole."""
        assert self.made is not None
        note = UpkeepNote(self._at, self.made.is_whole, self.made.words)
        note_upkeep(self._kept.folder, BACKED_UP, note)
        return self.made


def write_backup(kept: Kept, place: Path, *, at: datetime) -> Iterator[float]:
    """Make a backup as a file: complete under its name, or not there at all.

    Raises
    ------
    NotWrittenError, UnsoundRecordsError, BusyError
    """
    backup = Backup(kept, at=at)
    with whole_file(place) as out:
        yield from backup.steps(out)
    backup.is_handed_over()


@contextmanager
def whole_file(place: Path) -> Iterator[BinaryIO]:
    """A file to write that takes its name only once it is whole and flushed."""
    passing = place.with_name(f".{place.name}.part")
    try:
        with open(passing, "wb") as out:
            os.chmod(passing, 0o600)
            yield out
            out.flush()
            flush_file(out.fileno())
        os.replace(passing, place)
        flush_folder(place.parent)
    except OSError as error:
        raise NotWrittenError(place, os.strerror(error.errno or 5)) from error
    finally:
        with suppress(OSError):
            passing.unlink()


def _snapshot(records: Records, file: Path) -> str:
    """The records at one moment as an SQLite file, whatever database they are in; its step."""
    try:
        step = step_of(records.engine) or newest_step()
        if records.engine.dialect.name == "sqlite":
            copy_sqlite(Path(records.engine.url.database or ""), file)
        else:
            copy_from_server(records.engine, file, step)
        with sqlite3.connect(file) as read:
            for (line,) in read.execute("PRAGMA integrity_check(1)"):
                if line != "ok":
                    raise UnsoundRecordsError(line)
        read.close()
    except (DatabaseError, sqlite3.DatabaseError) as error:
        if isinstance(error, sqlite3.OperationalError):
            raise NotWrittenError(file.parent, str(error)) from error
        raise UnsoundRecordsError(str(error)) from error
    return step


def _said_by(snapshot: Path) -> tuple[list[str], dict[str, int], str]:
    """Which originals the copied records name, how many rows they have, whose they are."""
    copy = Records(sqlite_address(snapshot))
    try:
        with copy.engine.connect() as connection:
            asked = text("SELECT DISTINCT sha256 FROM photo ORDER BY sha256")
            hashes = list(connection.execute(asked).scalars())
            name = connection.execute(text("SELECT name FROM workshop LIMIT 1")).scalar()
            return hashes, count_rows(connection), name or ""
    finally:
        copy.close()


class _Counted:
    """Only writes, so that an archive can leave over a line that cannot be wound back."""

    def __init__(self, out: BinaryIO) -> None:
        self._out = out
        self.bytes = 0

    def write(self, data: bytes) -> int:
        self._out.write(data)
        self.bytes += len(data)
        return len(data)

    def flush(self) -> None:
        self._out.flush()


class _Packing:
    """Puts files into an archive and keeps their hashes."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.members: list[Member] = []

    def put(self, file: Path, name: str, *, packed: bool = False) -> Iterator[float]:
        digest, size = hashlib.sha256(), 0
        entry = _entry(name, packed=packed)
        with (
            file.open("rb") as source,
            self._archive.open(entry, "w", force_zip64=True) as into,
        ):
            while chunk := source.read(CHUNK):
                digest.update(chunk)
                size += len(chunk)
                into.write(chunk)
                yield 0.0
        self.members.append(Member(name, digest.hexdigest(), size))


def _entry(name: str, *, packed: bool) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _PACKED)
    entry.external_attr = 0o600 << 16
    # Photos are packed already; packing them again only takes time.
    entry.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    return entry
