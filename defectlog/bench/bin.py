"""The bin: what was deleted lies there with its date, can be brought back, and goes for good later.

Rows go first and files after them, so that a crash in between leaves a file too many, never a row
without its file.
"""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeVar

from sqlalchemy import ColumnElement, delete, exists, func, select, text
from sqlalchemy.orm import Session

from defectlog.bench.builds import find_build
from defectlog.bench.findings import find_finding, keep_if_closed, restore_mark
from defectlog.bench.kinds import names_of
from defectlog.bench.upkeep import BusyError, holding
from defectlog.errors import DefectlogError, NotFoundError
from defectlog.photos.refusals import StorageFaultError
from defectlog.photos.renditions import PhotoStore
from defectlog.records import (
    Build,
    Finding,
    LessonUse,
    Mark,
    Measurement,
    Photo,
    PhotoScale,
    TrialRun,
)
from defectlog.records.session import WITH_BIN, Records
from defectlog.units import plural

log = logging.getLogger("defectlog")

Thing = TypeVar("Thing", bound=Photo | Finding)

DAYS = 30
KEPT_FOR = timedelta(days=DAYS)

PHOTO, FINDING, MARK, BUILD = "photo", "finding", "mark", "build"


class NotBareError(DefectlogError):
    """A build with something on it is a record of what was made."""

    def __init__(self, build: Build, what: str) -> None:
        super().__init__(
            f"Build {build.id} cannot be deleted, {what}",
            "a build that was laid up stays on record; write in its note what became of it",
        )


class HasLessonsError(DefectlogError):
    """Lessons rest on a finding."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(
            f"Finding {finding.id} cannot be deleted, a lesson came from it",
            "close it with an outcome instead",
        )


@dataclass(frozen=True, slots=True)
class Binned:
    """One thing in the bin, in words; ``photo`` is the photo to show of it, if there is one."""

    thing: str
    number: int
    words: str
    since: datetime
    photo: Photo | None

    @property
    def until(self) -> datetime:
        return self.since + KEPT_FOR


def delete_finding(session: Session, number: int, at: datetime) -> Finding:
    """Put a finding in the bin, with its marks.

    Raises
    ------
    ClosedFindingError, HasLessonsError
        If it is a record already, or a lesson rests on it.
    """
    finding = find_finding(session, number)
    keep_if_closed(finding, "it stays on record")
    if finding.lessons:
        raise HasLessonsError(finding)
    for mark in finding.marks:
        mark.deleted_at = at
    finding.deleted_at = at
    session.flush()
    session.expire(finding.build, ["findings"])
    return finding


def delete_build(session: Session, number: int, at: datetime) -> Build:
    """Put a build in the bin that was started by mistake.

    Raises
    ------
    NotBareError
        If it has photos, findings, answers to lessons, or belongs to a trial.
    """
    build = find_build(session, number)
    for has, what in (
        (build.photos, "it has photos"),
        (build.findings, "it has findings"),
        (build.lesson_uses, "lessons were answered on it"),
        (build.trial_run, "it belongs to a trial"),
        (build.is_released, "it was released"),
    ):
        if has:
            raise NotBareError(build, what)
    build.deleted_at = at
    session.flush()
    return build


def in_the_bin(session: Session) -> list[Binned]:
    """All that lies in the bin, what went in last first."""
    title = names_of(session).title
    found = [
        Binned(PHOTO, p.id, f"{p.name}, {p.face.value}, of build {p.build_id}", p.deleted_at, p)
        for p in session.scalars(select(Photo).where(Photo.deleted_at.is_not(None)))
        if p.deleted_at
    ]
    gone_findings = list(session.scalars(select(Finding).where(Finding.deleted_at.is_not(None))))
    found += [
        Binned(FINDING, f.id, f"{title(f.kind)} on build {f.build_id}", f.deleted_at, None)
        for f in gone_findings
        if f.deleted_at
    ]
    alone = (
        select(Mark)
        .join(Mark.photo)
        .join(Mark.finding)
        .where(Mark.deleted_at.is_not(None), Photo.deleted_at.is_(None))
        .where(Finding.deleted_at.is_(None))
    )
    found += [
        Binned(MARK, m.id, f"{title(m.finding.kind)} on {m.photo.name}", m.deleted_at, m.photo)
        for m in session.scalars(alone)
        if m.deleted_at
    ]
    builds = select(Build).where(Build.deleted_at.is_not(None))
    found += [
        Binned(BUILD, b.id, f"{b.part.name}, {_facts(b)}", b.deleted_at, None)
        for b in session.scalars(builds.execution_options(**WITH_BIN))
        if b.deleted_at
    ]
    return sorted(found, key=lambda one: one.since, reverse=True)


def _facts(build: Build) -> str:
    return f"with {plural(len(build.facts), 'fact')}" if build.facts else "nothing noted"


def bring_back(session: Session, thing: str, number: int) -> int:
    """Take something out of the bin, with what went in together with it; its build's number.

    Raises
    ------
    NotFoundError
        If it is not in the bin, perhaps not any more.
    """
    if thing == PHOTO:
        photo, since = _out_of_the_bin(session, Photo, number)
        _bring_back_marks(session, Mark.photo_id == number, since)
        session.expire(photo.build, ["photos", "findings"])
        return photo.build_id
    if thing == FINDING:
        finding, since = _out_of_the_bin(session, Finding, number)
        _bring_back_marks(session, Mark.finding_id == number, since)
        session.expire(finding.build, ["findings"])
        return finding.build_id
    if thing == MARK:
        mark = session.get(Mark, number)
        if mark is None or mark.deleted_at is None:
            raise NotFoundError("mark in the bin", number)
        return restore_mark(session, number, mark.photo_id).photo.build_id
    build = session.get(Build, number, execution_options=WITH_BIN) if thing == BUILD else None
    if build is None or build.deleted_at is None:
        raise NotFoundError(f"{thing[:20]} in the bin", number)
    build.deleted_at = None
    session.flush()
    return build.id


def _out_of_the_bin(session: Session, table: type[Thing], number: int) -> tuple[Thing, datetime]:
    """The row, taken out, and since when it lay there."""
    row = session.get(table, number)
    since = None if row is None else row.deleted_at
    if row is None or since is None:
        raise NotFoundError(f"{table.__tablename__} in the bin", number)
    row.deleted_at = None
    session.flush()
    return row, since


def _bring_back_marks(session: Session, whose: ColumnElement[bool], since: datetime) -> None:
    """Marks that went in at the same moment; those on a photo still in the bin stay there."""
    for mark in session.scalars(select(Mark).where(whose, Mark.deleted_at == since)):
        if mark.photo.deleted_at is None:
            restore_mark(session, mark.id, mark.photo_id)


def empty(records: Records, store: PhotoStore, folder: Path, *, before: datetime) -> int:
    """Let go for good of what went in at ``before`` or earlier; how many things that were.

    Raises
    ------
    BusyError
        If a backup is being made: it still needs the files.
    """
    with holding(folder):
        with records.write() as session, session.begin():
            hashes, count = _forget(session, before)
        with records.write() as session, session.begin():
            # Nobody may enter a photo while it is looked whether anybody still names its file.
            if session.get_bind().dialect.name == "postgresql":
                session.execute(text("LOCK TABLE photo IN SHARE ROW EXCLUSIVE MODE"))
            named = set(session.scalars(select(Photo.sha256).where(Photo.sha256.in_(hashes))))
            for sha256 in set(hashes) - named:
                store.remove_copies(sha256)
                store.originals.remove(sha256)
    return count


def _forget(session: Session, before: datetime) -> tuple[list[str], int]:
    """Delete the rows; the hashes of the photos among them, and how many things went."""
    photos = session.execute(select(Photo.id, Photo.sha256).where(Photo.deleted_at <= before)).all()
    numbers = [row.id for row in photos]
    count = len(photos)
    session.execute(delete(Mark).where(Mark.photo_id.in_(numbers)))
    count += _gone(session, delete(Mark).where(Mark.deleted_at <= before))
    session.execute(delete(Measurement).where(Measurement.photo_id.in_(numbers)))
    session.execute(delete(PhotoScale).where(PhotoScale.photo_id.in_(numbers)))
    session.execute(delete(Photo).where(Photo.id.in_(numbers)))
    count += _gone(session, delete(Finding).where(Finding.deleted_at <= before, *_loose(Finding)))
    count += _gone(session, delete(Build).where(Build.deleted_at <= before, *_loose(Build)))
    return [row.sha256 for row in photos], count


def _loose(table: type[Finding] | type[Build]) -> Sequence[ColumnElement[bool]]:
    """Nothing kept rests on it."""
    from defectlog.records import Lesson

    if table is Finding:
        return (
            ~exists().where(Mark.finding_id == Finding.id),
            ~exists().where(Lesson.finding_id == Finding.id),
        )
    return (
        ~exists().where(Photo.build_id == Build.id),
        ~exists().where(Finding.build_id == Build.id),
        ~exists().where(TrialRun.build_id == Build.id),
        ~exists().where(LessonUse.build_id == Build.id),
    )


def _gone(session: Session, statement: object) -> int:
    return session.execute(statement, execution_options={"synchronize_session": False}).rowcount  # type: ignore[call-overload,no-any-return]


def let_go_of_what_is_old(
    records: Records, store: PhotoStore, folder: Path, *, now: datetime | None = None
) -> int:
    """Empty the bin of what has been in it for longer than it is kept; how many things that were.

    Days are counted up to the newest photo and not to today: a clock that is wrong by years must
    not empty the bin, and a shop that was closed for a while finds it as it was.
    """
    with records.read() as session:
        newest = session.scalar(select(func.max(Photo.received_at)))
        now = min(now or datetime.now(UTC), newest or datetime.min.replace(tzinfo=UTC))
        if newest is None:
            return 0
        old = session.scalar(
            select(Photo.id).where(Photo.deleted_at <= now - KEPT_FOR).limit(1)
        ) or session.scalar(select(Mark.id).where(Mark.deleted_at <= now - KEPT_FOR).limit(1))
    if old is None:
        return 0
    try:
        return empty(records, store, folder, before=now - KEPT_FOR)
    except (BusyError, StorageFaultError) as error:
        log.warning("The bin was not emptied. %s", error)
        return 0
