"""The shop's own knowledge: its kinds, causes and notes, and what other shops counted."""

from __future__ import annotations

import enum
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record
from defectlog.records.photos import stored_by_value


class Elsewhere(Record):
    """Another shop that knowledge came from, by the mark its files carry."""

    __tablename__ = "elsewhere"

    id: Mapped[int] = mapped_column(primary_key=True)
    uid: Mapped[str] = mapped_column(String(32), unique=True)
    name: Mapped[str] = mapped_column(String(80))
    # Of the newest file taken in from it; none where it is only known through a third shop.
    exported_at: Mapped[datetime | None]
    imported_at: Mapped[datetime]

    counts: Mapped[list[ElsewhereCount]] = relationship(
        back_populates="elsewhere", cascade="all, delete-orphan", order_by="ElsewhereCount.id"
    )


class Counted(enum.Enum):
    """What a count of another shop is about."""

    CAUSE = "cause confirmed"
    FIX = "fix held"


class ElsewhereCount(Record):
    """How often another shop confirmed a cause, or saw a fix hold: ``count`` of ``cases``."""

    __tablename__ = "elsewhere_count"
    __table_args__ = (
        UniqueConstraint("elsewhere_id", "about", "kind", "key"),
        CheckConstraint("count >= 0 AND count <= cases AND cases > 0", "is_a_part"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    elsewhere_id: Mapped[int] = mapped_column(ForeignKey("elsewhere.id", ondelete="CASCADE"))
    about: Mapped[Counted] = mapped_column(stored_by_value(Counted))
    kind: Mapped[str] = mapped_column(String(40), index=True)
    key: Mapped[str] = mapped_column(String(60))
    count: Mapped[int]
    cases: Mapped[int]

    elsewhere: Mapped[Elsewhere] = relationship(back_populates="counts")


class FromElsewhere:
    """Written here, unless it names the shop it came from."""

    elsewhere_id: Mapped[int | None] = mapped_column(ForeignKey("elsewhere.id"))

    @property
    def is_ours(self) -> bool:
        return self.elsewhere_id is None


class OwnKind(FromElsewhere, Record):
    """A kind of defect the guide does not have. Its key and its letters stay as they are."""

    __tablename__ = "own_kind"

    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(String(40), unique=True)
    code: Mapped[str] = mapped_column(String(2), unique=True)
    title: Mapped[str] = mapped_column(String(60))
    look: Mapped[str] = mapped_column(Text)
    definition: Mapped[str] = mapped_column(Text)
    # Its usual answers to the key, a list by question; none if it is not in the key.
    answers: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    written_at: Mapped[datetime]

    elsewhere: Mapped[Elsewhere | None] = relationship()


class OwnCause(FromElsewhere, Record):
    """A cause the shop knows of, under a kind of the guide or one of its own."""

    __tablename__ = "own_cause"

    id: Mapped[int] = mapped_column(primary_key=True)
    # A key of the guide or of an own kind, so no foreign key.
    kind: Mapped[str] = mapped_column(String(40), index=True)
    key: Mapped[str] = mapped_column(String(60), unique=True)
    title: Mapped[str] = mapped_column(String(80))
    why: Mapped[str] = mapped_column(Text, default="")
    check_do: Mapped[str] = mapped_column(Text, default="")
    check_positive: Mapped[str] = mapped_column(Text, default="")
    check_minutes: Mapped[float | None]
    prevention: Mapped[str] = mapped_column(Text, default="")
    written_at: Mapped[datetime]
    deleted_at: Mapped[datetime | None]

    elsewhere: Mapped[Elsewhere | None] = relationship()


class OwnFix(FromElsewhere, Record):
    """What the shop does about a kind, step by step. Deleting it only dates it."""

    __tablename__ = "own_fix"

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(40), index=True)
    key: Mapped[str] = mapped_column(String(60), unique=True)
    title: Mapped[str] = mapped_column(String(80))
    outcome: Mapped[str] = mapped_column(String(10))
    # Each step is what to do, and the keys of the guide's cautions chosen for it.
    steps: Mapped[list[Any]]
    not_when: Mapped[str] = mapped_column(Text)
    reinspect: Mapped[str] = mapped_column(Text, default="")
    time: Mapped[str] = mapped_column(String(80), default="")
    written_at: Mapped[datetime]
    deleted_at: Mapped[datetime | None]

    elsewhere: Mapped[Elsewhere | None] = relationship()


class HouseNote(FromElsewhere, Record):
    """A remark the shop keeps under a kind. Deleting it only dates it."""

    __tablename__ = "house_note"

    id: Mapped[int] = mapped_column(primary_key=True)
    uid: Mapped[str] = mapped_column(String(32), unique=True)
    kind: Mapped[str] = mapped_column(String(40), index=True)
    words: Mapped[str] = mapped_column(Text)
    written_at: Mapped[datetime]
    changed_at: Mapped[datetime | None]
    deleted_at: Mapped[datetime | None]

    elsewhere: Mapped[Elsewhere | None] = relationship()
