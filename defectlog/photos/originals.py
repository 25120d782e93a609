"""The originals: every photo's bytes exactly as they came, kept under their own SHA-256.

A file is on the disk for good before anything may refer to it. It is written under a passing
name, synced, renamed, and its folder synced; only then is its record made. A crash in between
leaves a file without a record, which costs room, and never a record without a file.
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from defectlog.disk import flush_file, flush_folder
from defectlog.photos.refusals import (
    AlteredError,
    EmptyFileError,
    MissingOriginalError,
    StorageFaultError,
    TooLargeError,
)
from defectlog.photos.sniff import FORMATS, HEAD_BYTES, PhotoFormat, sniff

DEFAULT_MAX_BYTES = 64 * 2**20
UNFINISHED_AFTER_S = 24 * 3600
# So much room is left to the records: what is noted, decided and deleted can still be written.
LEFT_FREE_BYTES = 500 * 10**6
LEFT_FREE_SHARE = 0.05  # of a small disk

_CHUNK = 2**20
_HASH = re.compile(r"[0-9a-f]{64}")
_NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
_NOT_ALLOWED = {errno.EACCES, errno.EPERM, errno.EROFS}


@dataclass(frozen=True, slots=True)
class Incoming:
    """A file that has arrived whole under a passing name and is not an original yet."""

    path: Path
    sha256: str
    size: int
    format: PhotoFormat


class Originals:
    """A folder of files named by their content: ``ab/abcdef….jpg``. None is ever altered."""

    def __init__(self, folder: Path, *, max_bytes: int = DEFAULT_MAX_BYTES) -> None:
        self.folder = folder
        self.max_bytes = max_bytes

    def path(self, sha256: str) -> Path:
        """Where an original lies.

        Raises
        ------
        MissingOriginalError
            If it is not there.
        """
        for kind in FORMATS:
            path = self._place(sha256, kind)
            if path.is_file():
                return path
        raise MissingOriginalError(sha256)

    def exists(self, sha256: str) -> bool:
        return any(self._place(sha256, kind).is_file() for kind in FORMATS)

    def kept(self) -> Iterator[str]:
        """The SHA-256 of every original there is."""
        endings = {kind.extension for kind in FORMATS}
        with storage_faults("read"):
            for file in self.folder.glob("??/*"):
                sha256, _, ending = file.name.partition(".")
                # Copies for the screen lie beside them, with a size after the hash.
                if _HASH.fullmatch(sha256) and ending in endings:
                    yield sha256

    def read(self, sha256: str) -> bytes:
        """The bytes of an original, exactly as they came."""
        with storage_faults("read"):
            return self.path(sha256).read_bytes()

    def is_sound(self, sha256: str) -> bool:
        """Whether an original is there and its bytes still have the SHA-256 it is named by."""
        if not self.exists(sha256):
            return False
        with storage_faults("read"), self.path(sha256).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == sha256

    @contextmanager
    def receive(self, source: BinaryIO, *, sha256: str = "") -> Iterator[Incoming]:
        """Write an arriving file under a passing name; it is gone afterwards unless kept.

        ``sha256`` is what the sender says its bytes have, if it says so.

        Raises
        ------
        AlteredError
            If other bytes came than were sent.
        EmptyFileError, ForeignFileError, TooLargeError
            If the first bytes are not of a photo, or there are too many.
        StorageFaultError
            If the folder cannot be written, or the disk is nearly full.
        """
        with storage_faults("written"):
            self._see_that_room_is_left()
            passing = self.passing_folder() / f"{secrets.token_hex(16)}.part"
        try:
            incoming = self._write(source, passing)
            if sha256 and incoming.sha256 != sha256:
                raise AlteredError
            yield incoming
        finally:
            # A disk that refuses this has refused the writing, too, and that is what is told.
            with suppress(OSError):
                passing.unlink()

    def keep(self, incoming: Incoming) -> Path:
        """Make an arrived file an original, for good; the same bytes twice are kept once."""
        with storage_faults("written"):
            place = self._place(incoming.sha256, incoming.format)
            if self.is_sound(incoming.sha256):
                return place
            if not place.parent.is_dir():
                place.parent.mkdir(mode=0o700, exist_ok=True)
                flush_folder(self.folder)
            os.replace(incoming.path, place)
            flush_folder(place.parent)
            return place

    def remove(self, sha256: str) -> None:
        """Take an original off the disk for good. Only for one that no record names any more."""
        with storage_faults("written"):
            for kind in FORMATS:
                self._place(sha256, kind).unlink(missing_ok=True)

    def remove_unfinished(self, *, older_than_s: float = UNFINISHED_AFTER_S) -> int:
        """Clear away what crashes left half written; returns how many files that were."""
        removed = 0
        with storage_faults("written"):
            for left in self.passing_folder().glob("*.part"):
                if time.time() - left.stat().st_mtime > older_than_s:
                    left.unlink(missing_ok=True)
                    removed += 1
        return removed

    def _see_that_room_is_left(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        disk = shutil.disk_usage(self.folder)
        if is_nearly_full(disk.free, disk.total):
            raise StorageFaultError(
                f"Not saved, the disk is nearly full ({disk.free / 1e6:.0f} MB are left)",
                "free some room on it, then send the photo again",
            )

    def _write(self, source: BinaryIO, passing: Path) -> Incoming:
        digest = hashlib.sha256()
        size = 0
        chunk = _first_chunk(source)
        kind = sniff(chunk[:HEAD_BYTES])
        with storage_faults("written"):
            mode = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
            with os.fdopen(os.open(passing, mode, 0o600), "wb") as file:
                while chunk:
                    size += len(chunk)
                    if size > self.max_bytes:
                        raise TooLargeError.in_bytes(self.max_bytes)
                    digest.update(chunk)
                    file.write(chunk)
                    chunk = source.read(_CHUNK)
                file.flush()
                flush_file(file.fileno())
        return Incoming(passing, digest.hexdigest(), size, kind)

    def _place(self, sha256: str, kind: PhotoFormat) -> Path:
        return self.folder / sha256[:2] / f"{sha256}.{kind.extension}"

    def passing_folder(self) -> Path:
        """Where files lie under passing names until they are whole; made if it is missing."""
        passing = self.folder / "arriving"
        passing.mkdir(parents=True, exist_ok=True, mode=0o700)
        return passing


def is_nearly_full(free_bytes: int, total_bytes: int) -> bool:
    """Whether what is left of a disk is kept for the records, so that no photo is taken in."""
    return free_bytes < min(LEFT_FREE_BYTES, LEFT_FREE_SHARE * total_bytes)


@contextmanager
def storage_faults(deed: str) -> Iterator[None]:
    """Say in a sentence what the disk refused. ``deed`` is "read" or "written"."""
    try:
        yield
    except OSError as error:
        if error.errno in _NO_ROOM:
            raise StorageFaultError(
                "Not saved, the disk is full", "free some room on it, then send the photo again"
            ) from error
        what = f"The folder of the photos cannot be {deed}"
        if error.errno in _NOT_ALLOWED:
            do = "check that its disk is not read-only and that this program may use the folder"
        else:
            do = f"check the disk it lies on ({os.strerror(error.errno or errno.EIO)})"
        raise StorageFaultError(what, do) from error


def _first_chunk(source: BinaryIO) -> bytes:
    """Enough bytes to sniff at, even from a source that hands out a few at a time."""
    chunk = source.read(_CHUNK)
    if not chunk:
        raise EmptyFileError
    while len(chunk) < HEAD_BYTES and (more := source.read(_CHUNK)):
        chunk += more
    return chunk
