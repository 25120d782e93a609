"""Lessons: one thing to change, where it came from, and the builds it was due on."""

from __future__ import annotations

import enum
from datetime import datetime

from sqlalchemy import ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record
from defectlog.records.builds import Build, Part
from defectlog.records.findings import Finding
from defectlog.records.photos import stored_by_value


class LessonState(enum.Enum):
    """How far a lesson has come."""

    PROPOSED = "proposed"
    ON_TRIAL = "on trial"
    KEPT = "kept"
    DROPPED = "dropped"


class Lesson(Record):
    """One thing to change on the next builds of a part."""

    __tablename__ = "lesson"

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    finding_id: Mapped[int] = mapped_column(ForeignKey("finding.id"), index=True)
    cause: Mapped[str | None] = mapped_column(String(60))
    words: Mapped[str] = mapped_column(Text)
    state: Mapped[LessonState] = mapped_column(
        stored_by_value(LessonState), default=LessonState.ON_TRIAL
    )
    reason: Mapped[str] = mapped_column(Text, default="")
    written_at: Mapped[datetime]

    part: Mapped[Part] = relationship(back_populates="lessons")
    finding: Mapped[Finding] = relationship(back_populates="lessons")
    uses: Mapped[list[LessonUse]] = relationship(
        back_populates="lesson", cascade="all, delete-orphan", order_by="LessonUse.build_id"
    )

    @property
    def is_active(self) -> bool:
        """Whether lay-up sheets ask for it: not while it is only proposed, nor once dropped."""
        return self.state in (LessonState.ON_TRIAL, LessonState.KEPT)


class LessonUse(Record):
    """Whether a lesson was applied or skipped on one build."""

    __tablename__ = "lesson_use"
    __table_args__ = (UniqueConstraint("lesson_id", "build_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    lesson_id: Mapped[int] = mapped_column(ForeignKey("lesson.id", ondelete="CASCADE"))
    build_id: Mapped[int] = mapped_column(ForeignKey("build.id", ondelete="CASCADE"), index=True)
    is_applied: Mapped[bool]
    at: Mapped[datetime]

    lesson: Mapped[Lesson] = relationship(back_populates="uses")
    build: Mapped[Build] = relationship(back_populates="lesson_uses")
