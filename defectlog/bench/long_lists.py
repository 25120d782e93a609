"""Lists that may be long: the database counts, and only the lines shown are fetched."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, object_session, selectinload

from defectlog.records import Build, Finding, Mark, Outcome, Part, Photo


@dataclass(frozen=True, slots=True)
class BuildPage:
    """Some builds of a list, how many there are in all, and how many are not released."""

    builds: tuple[Build, ...]
    count: int
    waiting: int


def page_of_builds(
    session: Session, part_id: int | None = None, *, first: int = 0, most: int
) -> BuildPage:
    """The builds from the place ``first`` on, newest first; of one part if given."""
    asked = [] if part_id is None else [Build.part_id == part_id]
    builds = session.scalars(
        select(Build)
        .where(*asked)
        .order_by(Build.started_at.desc(), Build.id.desc())
        .offset(first)
        .limit(most)
    )
    count = session.scalar(select(func.count(Build.id)).where(*asked)) or 0
    waiting = select(func.count(Build.id)).where(*asked, Build.released_at.is_(None))
    return BuildPage(tuple(builds), count, session.scalar(waiting) or 0)


def newest_builds(session: Session, part_ids: Iterable[int]) -> dict[int, Build]:
    """The newest build of each of these parts, by part; a part without builds is left out."""
    newest = select(func.max(Build.id)).where(Build.part_id.in_(part_ids)).group_by(Build.part_id)
    builds = session.scalars(select(Build).where(Build.id.in_(newest)))
    return {build.part_id: build for build in builds}


def page_of_findings(
    session: Session,
    *,
    kind: str = "",
    part_id: int | None = None,
    only_open: bool = False,
    most: int,
) -> tuple[list[Finding], int]:
    """The newest findings, and how many there are in all."""
    asked = [Finding.deleted_at.is_(None)]
    if kind:
        asked.append(Finding.kind == kind)
    if part_id is not None:
        asked.append(Build.part_id == part_id)
    if only_open:
        asked.append(Finding.outcome == Outcome.OPEN)
    found = select(Finding).join(Build, Finding.build_id == Build.id).where(*asked)
    number = select(func.count(Finding.id)).join(Build, Finding.build_id == Build.id).where(*asked)
    newest = session.scalars(found.order_by(Finding.id.desc()).limit(most))
    return list(newest), session.scalar(number) or 0


def ready_for_list(findings: Iterable[Finding]) -> Sequence[Finding]:
    """The same findings with what a line shows of each fetched for all of them at once."""
    rows = list(findings)
    session = object_session(rows[0]) if rows else None
    if session is not None:
        on_photo = selectinload(Finding.marks).joinedload(Mark.photo)
        session.scalars(
            select(Finding)
            .where(Finding.id.in_([finding.id for finding in rows]))
            .options(
                on_photo.selectinload(Photo.scales),
                on_photo.selectinload(Photo.measurements),
                selectinload(Finding.verdicts),
                joinedload(Finding.build).joinedload(Build.part).selectinload(Part.limits),
            )
        ).all()
    return rows
