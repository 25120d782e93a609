"""Parts, builds, photos and findings for tests, made through the bench as a person would."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts, start_build
from defectlog.bench.findings import add_mark
from defectlog.bench.parts import PartPlan, save_part
from defectlog.records import Build, Face, Finding, Part, Photo, PhotoScale, PhotoStage, Shape

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def make_part(session: Session, name: str = "Locker door", **more: Any) -> Part:
    return save_part(session, PartPlan(name=name, **more))


def make_build(session: Session, part: Part | None = None, **facts: Any) -> Build:
    build = start_build(session, (part or make_part(session)).id, NOON)
    return save_facts(session, build.id, facts, NOON)


def make_photo(session: Session, build: Build, *, px_per_mm: float | None = None) -> Photo:
    """A photo row without a file: for what only the records know."""
    photo = Photo(
        build=build,
        sha256=f"{len(build.photos):064x}",
        name="tool-side.jpg",
        media_type="image/jpeg",
        bytes=1000,
        width_px=400,
        height_px=300,
        face=Face.TOOL,
        stage=PhotoStage.DEMOULD,
        received_at=NOON,
    )
    session.add(photo)
    session.flush()
    if px_per_mm:
        photo.scales.append(
            PhotoScale(source="points", px_per_mm=px_per_mm, uncertainty_pct=1.0, at=NOON)
        )
    session.flush()
    session.expire(build, ["photos"])
    return photo


def make_finding(
    session: Session, photo: Photo, kind: str = "dry-spot", points=((10, 10), (110, 10))
) -> Finding:
    mark = add_mark(session, photo.id, Shape.LINE, points, kind=kind, at=NOON)
    return mark.finding
