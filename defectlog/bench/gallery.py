"""Photos of all builds, newest first, found by what they show and when they came in."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import names_of
from defectlog.errors import FieldError
from defectlog.records import Build, Face, Finding, Mark, Part, Photo, PhotoStage

PAGE = 60  # photos shown at once


@dataclass(frozen=True, slots=True)
class PhotoSearch:
    """What is asked of the photos; what is None asks nothing. All of it has to hold.

    ``kind`` is the kind of a finding marked on the photo, ``since`` and ``until`` the days on
    which it came in, both included, on this machine's calendar.
    """

    part: int | None = None
    build: int | None = None
    kind: str | None = None
    face: Face | None = None
    stage: PhotoStage | None = None
    since: date | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class FoundPhoto:
    """One photo of a gallery; ``kinds`` are the keys of what is marked on it, oldest first."""

    number: int
    sha256: str
    face: Face
    stage: PhotoStage
    build: int
    part: str
    received_at: datetime
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Gallery:
    """One page of found photos: how many there are in all, and where the older ones begin."""

    photos: tuple[FoundPhoto, ...]
    count: int
    older: int | None


def find_photos(session: Session, wanted: PhotoSearch, *, before: int | None = None) -> Gallery:
    """Look up photos, the newest 60 of them, or those older than photo ``before``.

    Raises
    ------
    FieldError
        If the days run backwards.
    """
    asked = _asked(wanted)
    columns = (
        Photo.id,
        Photo.sha256,
        Photo.face,
        Photo.stage,
        Photo.build_id,
        Part.name,
        Photo.received_at,
    )
    shown = select(*columns).join(Photo.build).join(Build.part).where(*asked)
    if before is not None:
        shown = shown.where(Photo.id < before)
    rows = session.execute(shown.order_by(Photo.id.desc()).limit(PAGE + 1)).all()
    page, rest = rows[:PAGE], rows[PAGE:]
    kinds = _kinds_on(session, [row.id for row in page])
    return Gallery(
        photos=tuple(FoundPhoto(*row, kinds.get(row.id, ())) for row in page),
        count=session.scalar(_counting(asked, wanted)) or 0,
        older=page[-1].id if rest else None,
    )


def kinds_marked(session: Session) -> list[tuple[str, str]]:
    """The kinds that findings have, key and title, by title."""
    names = names_of(session)
    keys = session.scalars(select(Finding.kind).where(Finding.deleted_at.is_(None)).distinct())
    return sorted(((key, names.title(key)) for key in keys), key=lambda pair: pair[1].casefold())


def _asked(wanted: PhotoSearch) -> list[ColumnElement[bool]]:
    if wanted.since and wanted.until and wanted.until < wanted.since:
        raise FieldError(
            "until", "Until: that day lies before the first one", "give the earlier day first"
        )
    asked: list[ColumnElement[bool]] = [Photo.deleted_at.is_(None)]
    if wanted.part is not None:
        asked.append(Build.part_id == wanted.part)
    if wanted.build is not None:
        asked.append(Photo.build_id == wanted.build)
    if wanted.kind is not None:
        asked.append(Photo.id.in_(_showing(wanted.kind)))
    if wanted.face is not None:
        asked.append(Photo.face == wanted.face)
    if wanted.stage is not None:
        asked.append(Photo.stage == wanted.stage)
    if wanted.since is not None:
        asked.append(Photo.received_at >= _midnight(wanted.since))
    if wanted.until is not None:
        asked.append(Photo.received_at < _midnight(wanted.until + timedelta(days=1)))
    return asked


def _counting(asked: list[ColumnElement[bool]], wanted: PhotoSearch) -> Select[tuple[int]]:
    counting = select(func.count(Photo.id))
    if wanted.part is not None:
        counting = counting.join(Photo.build)
    return counting.where(*asked)


def _showing(kind: str) -> Select[tuple[int]]:
    return (
        select(Mark.photo_id)
        .join(Mark.finding)
        .where(Finding.kind == kind, Finding.deleted_at.is_(None), Mark.deleted_at.is_(None))
    )


def _kinds_on(session: Session, photos: Iterable[int]) -> dict[int, tuple[str, ...]]:
    found: dict[int, dict[str, None]] = {}
    for photo, kind in session.execute(
        select(Mark.photo_id, Finding.kind)
        .join(Mark.finding)
        .where(
            Mark.photo_id.in_(list(photos)),
            Mark.deleted_at.is_(None),
            Finding.deleted_at.is_(None),
        )
        .order_by(Mark.id)
    ):
        found.setdefault(photo, {})[kind] = None
    return {photo: tuple(kinds) for photo, kinds in found.items()}


def _midnight(day: date) -> datetime:
    """When a day begins on this machine's calendar."""
    return datetime.combine(day, time()).astimezone(UTC)
