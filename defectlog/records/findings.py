"""Findings: one defect on one build, what caused it, what was done, and how it ended."""

from __future__ import annotations

import enum
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record
from defectlog.records.builds import Build
from defectlog.records.photos import Mark, stored_by_value

if TYPE_CHECKING:
    from defectlog.records.lessons import Lesson


class Outcome(enum.Enum):
    """What happens to the part. The words are those of ISO 9000."""

    OPEN = "open"
    CONCESSION = "use as is under concession"
    REWORK = "rework"
    REPAIR = "repair"
    REGRADE = "regrade"
    SCRAP = "scrap"


class Finding(Record):
    """One defect on one build, seen in one or more photos through marks."""

    __tablename__ = "finding"
    __table_args__ = (
        CheckConstraint("(outcome = 'open') = (closed_at IS NULL)", "closed_has_a_date"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    build_id: Mapped[int] = mapped_column(ForeignKey("build.id"), index=True)
    # A key of the guide or one of the shop's own, so no foreign key.
    kind: Mapped[str] = mapped_column(String(40), index=True)
    note: Mapped[str] = mapped_column(Text, default="")
    opened_at: Mapped[datetime]
    outcome: Mapped[Outcome] = mapped_column(stored_by_value(Outcome), default=Outcome.OPEN)
    reason: Mapped[str] = mapped_column(Text, default="")
    closed_at: Mapped[datetime | None]
    deleted_at: Mapped[datetime | None]

    build: Mapped[Build] = relationship(back_populates="findings")
    marks: Mapped[list[Mark]] = relationship(
        back_populates="finding",
        order_by="Mark.id",
        primaryjoin="and_(Mark.finding_id == Finding.id, Mark.deleted_at.is_(None))",
    )
    verdicts: Mapped[list[CauseVerdict]] = relationship(
        back_populates="finding", cascade="all, delete-orphan", order_by="CauseVerdict.id"
    )
    checks: Mapped[list[CheckDone]] = relationship(
        back_populates="finding", cascade="all, delete-orphan", order_by="CheckDone.id"
    )
    fixes: Mapped[list[FixDone]] = relationship(
        back_populates="finding", cascade="all, delete-orphan", order_by="FixDone.id"
    )
    lessons: Mapped[list[Lesson]] = relationship(back_populates="finding", order_by="Lesson.id")
    decisions: Mapped[list[Decision]] = relationship(
        back_populates="finding",
        cascade="all, delete-orphan",
        order_by="Decision.id",
        passive_deletes=True,
    )

    @property
    def is_open(self) -> bool:
        return self.outcome is Outcome.OPEN

    @property
    def confirmed_cause(self) -> str | None:
        """The key of the cause confirmed last, if any."""
        return next((v.cause for v in reversed(self.verdicts) if v.is_confirmed), None)


class Decision(Record):
    """What was decided for a finding, by whom and when. Rows are only added."""

    __tablename__ = "decision"

    id: Mapped[int] = mapped_column(primary_key=True)
    finding_id: Mapped[int] = mapped_column(
        ForeignKey("finding.id", ondelete="CASCADE"), index=True
    )
    # Open: the finding was opened again.
    outcome: Mapped[Outcome] = mapped_column(stored_by_value(Outcome))
    reason: Mapped[str] = mapped_column(Text, default="")
    at: Mapped[datetime]
    # Empty where nobody wrote it down.
    by: Mapped[str] = mapped_column(String(80), default="")

    finding: Mapped[Finding] = relationship(back_populates="decisions")


class CauseVerdict(Record):
    """What a check said of one cause of a finding: confirmed or ruled out."""

    __tablename__ = "cause_verdict"
    __table_args__ = (UniqueConstraint("finding_id", "cause"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    finding_id: Mapped[int] = mapped_column(ForeignKey("finding.id", ondelete="CASCADE"))
    cause: Mapped[str] = mapped_column(String(60))
    is_confirmed: Mapped[bool]
    seen: Mapped[str] = mapped_column(Text, default="")
    at: Mapped[datetime]

    finding: Mapped[Finding] = relationship(back_populates="verdicts")


class CheckDone(Record):
    """What came of one check of the guide on the part of a finding."""

    __tablename__ = "check_done"
    __table_args__ = (UniqueConstraint("finding_id", "check_key"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    finding_id: Mapped[int] = mapped_column(ForeignKey("finding.id", ondelete="CASCADE"))
    check_key: Mapped[str] = mapped_column(String(60))
    is_positive: Mapped[bool]
    seen: Mapped[str] = mapped_column(Text, default="")
    at: Mapped[datetime]

    finding: Mapped[Finding] = relationship(back_populates="checks")


class FixResult(enum.Enum):
    """What looking again at a fix showed."""

    HELD = "held"
    FAILED = "did not hold"


class FixDone(Record):
    """One thing that was done to the part about a finding."""

    __tablename__ = "fix_done"

    id: Mapped[int] = mapped_column(primary_key=True)
    finding_id: Mapped[int] = mapped_column(ForeignKey("finding.id", ondelete="CASCADE"))
    words: Mapped[str] = mapped_column(Text)
    minutes: Mapped[float | None]
    at: Mapped[datetime]
    # The guide's fix this was, if it was one of the guide's.
    fix_key: Mapped[str | None] = mapped_column(String(60))
    # Nothing until somebody has looked again.
    result: Mapped[FixResult | None] = mapped_column(stored_by_value(FixResult))
    looked_at: Mapped[datetime | None]

    finding: Mapped[Finding] = relationship(back_populates="fixes")
