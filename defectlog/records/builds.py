"""Parts, their acceptance limits, builds and the facts of each build."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record

if TYPE_CHECKING:
    from defectlog.records.findings import Finding
    from defectlog.records.lessons import Lesson, LessonUse
    from defectlog.records.photos import Photo
    from defectlog.records.trials import TrialRun


class Part(Record):
    """Something made more than once."""

    __tablename__ = "part"
    __table_args__ = (
        CheckConstraint("target_mass_g IS NULL OR target_mass_g > 0", "mass_is_positive"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), unique=True)
    drawing_ref: Mapped[str] = mapped_column(String(80), default="")
    mould: Mapped[str] = mapped_column(String(80), default="")
    target_mass_g: Mapped[float | None]
    laminate_plan: Mapped[str] = mapped_column(Text, default="")

    builds: Mapped[list[Build]] = relationship(back_populates="part", order_by="Build.id")
    limits: Mapped[list[Limit]] = relationship(
        back_populates="part", cascade="all, delete-orphan", order_by="Limit.id"
    )
    lessons: Mapped[list[Lesson]] = relationship(back_populates="part", order_by="Lesson.id")


class Limit(Record):
    """What a part may have of one kind: size, count per area, share of the area."""

    __tablename__ = "part_limit"
    __table_args__ = (UniqueConstraint("part_id", "kind"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id", ondelete="CASCADE"))
    kind: Mapped[str] = mapped_column(String(40))
    largest_mm: Mapped[float | None]
    per_dm2: Mapped[float | None]
    area_fraction: Mapped[float | None]

    part: Mapped[Part] = relationship(back_populates="limits")


class Build(Record):
    """One lay-up of one part, from lay-up sheet to release."""

    __tablename__ = "build"

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    started_at: Mapped[datetime]
    released_at: Mapped[datetime | None]
    note: Mapped[str] = mapped_column(Text, default="")
    deleted_at: Mapped[datetime | None]

    part: Mapped[Part] = relationship(back_populates="builds")
    facts: Mapped[list[BuildFact]] = relationship(
        back_populates="build", cascade="all, delete-orphan", order_by="BuildFact.id"
    )
    photos: Mapped[list[Photo]] = relationship(
        back_populates="build",
        order_by="Photo.id",
        primaryjoin="and_(Photo.build_id == Build.id, Photo.deleted_at.is_(None))",
    )
    findings: Mapped[list[Finding]] = relationship(
        back_populates="build",
        order_by="Finding.id",
        primaryjoin="and_(Finding.build_id == Build.id, Finding.deleted_at.is_(None))",
    )
    lesson_uses: Mapped[list[LessonUse]] = relationship(back_populates="build")
    trial_run: Mapped[TrialRun | None] = relationship(back_populates="build")

    @property
    def is_released(self) -> bool:
        return self.released_at is not None

    @property
    def known(self) -> dict[str, Any]:
        """The build facts by name, as ``facts.FACTS`` types them."""
        return {fact.name: fact.value for fact in self.facts}


class BuildFact(Record):
    """One known condition of a build."""

    __tablename__ = "build_fact"
    __table_args__ = (UniqueConstraint("build_id", "name"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    build_id: Mapped[int] = mapped_column(ForeignKey("build.id", ondelete="CASCADE"))
    # A name of facts.FACTS; a shop may add its own, so no foreign key.
    name: Mapped[str] = mapped_column(String(40))
    value: Mapped[Any] = mapped_column(JSON)
    at: Mapped[datetime]

    build: Mapped[Build] = relationship(back_populates="facts")
