"""Trials: settings of one build fact compared on panels made for it, in a random order."""

from __future__ import annotations

import enum
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record
from defectlog.records.builds import Build, Part
from defectlog.records.photos import stored_by_value


class TrialResult(enum.Enum):
    """What a trial is judged by."""

    VOIDS = "void fraction, tool side at demould"
    PINHOLES = "pinholes per area, tool side at demould"
    LARGEST = "largest void, tool side at demould"
    # Of one kind where the trial names one, of all otherwise.
    FINDINGS = "findings of one kind"
    MASS = "mass"
    RESIN_LEFT = "resin left over"
    EFFORT = "working time"
    REWORK = "rework time"


class TrialState(enum.Enum):
    """How far a trial has come."""

    RUNNING = "running"
    DECIDED = "decided"
    STOPPED = "stopped"


class Trial(Record):
    """A question to the shop, and the panels that are to answer it."""

    __tablename__ = "trial"
    __table_args__ = (
        CheckConstraint("smallest_difference > 0", "difference_is_positive"),
        CheckConstraint("per_setting >= 2", "has_a_spread"),
        CheckConstraint("(state = 'decided') = (decided_at IS NOT NULL)", "decided_has_a_date"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    question: Mapped[str] = mapped_column(Text)
    # A name of facts.FACTS; a shop may add its own, so no foreign key.
    fact: Mapped[str] = mapped_column(String(40))
    # Values as the fact types them; the first is the one the others are compared with.
    settings: Mapped[list[Any]]
    result: Mapped[TrialResult] = mapped_column(stored_by_value(TrialResult))
    # Which surface is measured, as face and stage, where voids are judged.
    surface: Mapped[str] = mapped_column(
        String(40), default="tool-demould", server_default="tool-demould"
    )
    # Which kind of finding is counted, where findings are and not all of them count.
    kind: Mapped[str | None] = mapped_column(String(40))
    # In the unit the result is kept in: a fraction, mm, g, min, or a count per dm² or panel.
    smallest_difference: Mapped[float]
    per_setting: Mapped[int]
    seed: Mapped[int]
    by_day: Mapped[bool]
    # What the number of panels was worked out from, as it was said then.
    planned_words: Mapped[str] = mapped_column(Text, default="")
    planned_at: Mapped[datetime]
    state: Mapped[TrialState] = mapped_column(
        stored_by_value(TrialState), default=TrialState.RUNNING
    )
    stopped_reason: Mapped[str] = mapped_column(Text, default="")
    decided_at: Mapped[datetime | None]
    # What was said when all panels were in, and the values it was said of; never said anew.
    verdict: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))

    part: Mapped[Part] = relationship()
    runs: Mapped[list[TrialRun]] = relationship(
        back_populates="trial", cascade="all, delete-orphan", order_by="TrialRun.number"
    )
    looks: Mapped[list[TrialLook]] = relationship(
        back_populates="trial", cascade="all, delete-orphan", order_by="TrialLook.id"
    )

    @property
    def is_running(self) -> bool:
        return self.state is TrialState.RUNNING


class TrialRun(Record):
    """One panel of a trial; its build is made when the panel is started."""

    __tablename__ = "trial_run"
    __table_args__ = (UniqueConstraint("trial_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    trial_id: Mapped[int] = mapped_column(ForeignKey("trial.id", ondelete="CASCADE"))
    # In the order of making, from 1.
    number: Mapped[int]
    # Which of the trial's settings, from 0.
    setting: Mapped[int]
    # Which day it belongs to, from 1, or which round where days do not matter.
    block: Mapped[int]
    build_id: Mapped[int | None] = mapped_column(ForeignKey("build.id"), unique=True)
    # Why the panel cannot be judged; empty as long as it can.
    lost_reason: Mapped[str] = mapped_column(Text, default="")

    trial: Mapped[Trial] = relationship(back_populates="runs")
    build: Mapped[Build | None] = relationship(back_populates="trial_run")

    @property
    def is_lost(self) -> bool:
        return bool(self.lost_reason)

    @property
    def value(self) -> Any:
        """The setting itself, as the fact types it."""
        return self.trial.settings[self.setting]


class TrialLook(Record):
    """One look at the values before all were in. Rows are only added."""

    __tablename__ = "trial_look"

    id: Mapped[int] = mapped_column(primary_key=True)
    trial_id: Mapped[int] = mapped_column(ForeignKey("trial.id", ondelete="CASCADE"), index=True)
    at: Mapped[datetime]
    panels_in: Mapped[int]

    trial: Mapped[Trial] = relationship(back_populates="looks")
