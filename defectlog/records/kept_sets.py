"""Sets of builds that a person chose, named, and looks at again."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record


class KeptSet(Record):
    """Builds under a name. A name stands for one set: kept again, it holds other builds."""

    __tablename__ = "kept_set"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(60), unique=True)
    at: Mapped[datetime]

    members: Mapped[list[KeptSetBuild]] = relationship(
        cascade="all, delete-orphan", order_by="KeptSetBuild.build_id", passive_deletes=True
    )


class KeptSetBuild(Record):
    """One build of a kept set; it leaves the set when it is deleted."""

    __tablename__ = "kept_set_build"

    set_id: Mapped[int] = mapped_column(
        ForeignKey("kept_set.id", ondelete="CASCADE"), primary_key=True
    )
    build_id: Mapped[int] = mapped_column(
        ForeignKey("build.id", ondelete="CASCADE"), primary_key=True, index=True
    )
