"""How the records are: disk, last backup, last look-over, clock; and when to remind of a backup."""

import os
import shutil
import tempfile
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import func, select, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from defectlog.bench.strays import count_settled_strays
from defectlog.bench.upkeep import BACKED_UP, VERIFIED, UpkeepNote, last_upkeep
from defectlog.errors import DefectlogError
from defectlog.photos.originals import is_nearly_full
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Measurement, Photo
from defectlog.units import plural

BACKUP_DUE = timedelta(days=7)
VERIFY_DUE = timedelta(days=30)
CLOCK_SLACK = timedelta(minutes=5)
# Below this, photos may soon find no room; room is needed for the records themselves, too.
LITTLE_ROOM_BYTES = 2 * 10**9


@dataclass(frozen=True, slots=True)
class Sign:
    """One line of the health page: what about, how it stands, what to do if it is not well."""

    about: str
    words: str
    is_well: bool
    do: str = ""


def health(session: Session, store: PhotoStore, folder: Path, *, now: datetime) -> list[Sign]:
    """All signs, in the order they matter."""
    return [
        _database(session),
        _disk(folder),
        backup_sign(folder, now=now),
        _verified(folder, now),
        _strays(session, store),
        clock_sign(session, now=now)
        or Sign("Clock", "This machine's clock is not behind the newest record.", True),
    ]


def reminders(session: Session, folder: Path, *, now: datetime) -> list[Sign]:
    """What the Bench should say before the day starts: a backup is due, the clock is wrong."""
    if session.scalar(select(Photo.id).limit(1)) is None:
        return []
    signs = (backup_sign(folder, now=now), clock_sign(session, now=now))
    return [sign for sign in signs if sign is not None and not sign.is_well]


def _database(session: Session) -> Sign:
    try:
        if session.get_bind().dialect.name == "sqlite":
            said = session.execute(text("PRAGMA quick_check(1)")).scalar()
        else:
            said = "ok" if session.execute(text("SELECT 1")).scalar() == 1 else "no answer"
    except DatabaseError as error:
        said = str(error.orig)
    if said == "ok":
        return Sign("Database", "Answers, and hangs together.", True)
    return Sign(
        "Database", f"Damaged: {said}.", False, "stop defectlog and restore the last good backup"
    )


def _disk(folder: Path) -> Sign:
    usage = shutil.disk_usage(folder)
    room = f"{usage.free / 1e9:.1f} GB of {usage.total / 1e9:.0f} GB free"
    try:
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(b"0")
            probe.flush()
    except OSError as error:
        words = f"{room}, but the folder cannot be written ({os.strerror(error.errno or 5)})."
        return Sign("Disk", words, False, "free some room, or look whether it is read-only")
    if is_nearly_full(usage.free, usage.total):
        words = f"{room}: nearly full, so photos are refused; notes and decisions can be saved."
        return Sign("Disk", words, False, "free some room, then send the photos again")
    if usage.free < LITTLE_ROOM_BYTES:
        return Sign("Disk", f"{room}.", False, "free some room, or photos will be refused soon")
    return Sign("Disk", f"{room}, and it can be written.", True)


def backup_sign(folder: Path, *, now: datetime) -> Sign:
    """Whether there is a backup that is young enough."""
    last = last_upkeep(folder, BACKED_UP)
    do = "make one now, and keep it on another disk"
    if last is None:
        return Sign("Backup", "No backup was made yet.", False, do)
    words = f"The last backup was made {_ago(last, now)}: {last.words}."
    if not last.is_well:
        return Sign("Backup", words, False, "look the records over with defectlog verify")
    is_young = abs(now - last.at) <= BACKUP_DUE
    return Sign("Backup", words, is_young, "" if is_young else do)


def _verified(folder: Path, now: datetime) -> Sign:
    last = last_upkeep(folder, VERIFIED)
    do = "look them over now"
    if last is None:
        return Sign("Looked over", "The records were not looked over yet.", False, do)
    words = f"{_ago(last, now)}: {last.words}"
    if not last.is_well:
        do = "put right what is wrong (looking over lists it), then look again"
        return Sign("Looked over", words, False, do)
    is_well = abs(now - last.at) <= VERIFY_DUE
    return Sign("Looked over", words, is_well, "" if is_well else do)


def _strays(session: Session, store: PhotoStore) -> Sign:
    try:
        count = count_settled_strays(session, store)
    except DefectlogError as error:
        return Sign("Photo files", f"{error.what}.", False, error.do)
    if not count:
        return Sign("Photo files", "Every photo file belongs to a record.", True)
    return Sign(
        "Photo files",
        f"{plural(count, 'photo file')} without a record: an upload was cut off.",
        False,
        "send those photos again, or set the files aside with defectlog verify --set-aside",
    )


def clock_sign(session: Session, *, now: datetime) -> Sign | None:
    """A warning if this machine's clock is behind what it has recorded itself."""
    latest = [
        session.scalar(select(func.max(column))) for column in (Photo.received_at, Measurement.at)
    ]
    newest = max((moment for moment in latest if moment is not None), default=None)
    if newest is None or newest <= now + CLOCK_SLACK:
        return None
    return Sign(
        "Clock",
        f"This machine's clock says {_local(now)}, and the newest record is from {_local(newest)}.",
        False,
        "set the clock right; records keep their order by number meanwhile",
    )


def _local(moment: datetime) -> str:
    here = moment.astimezone()
    return f"{here.day} {here:%b %Y, %H:%M}"


def _ago(note: UpkeepNote, now: datetime) -> str:
    days = (now - note.at).days
    when = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    return f"{when}, {_local(note.at)}" if days >= 0 else f"on {_local(note.at)}"
