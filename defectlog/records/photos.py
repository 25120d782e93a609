"""Photos of builds, how big a pixel is on each, and the marks drawn on them."""

from __future__ import annotations

import enum
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, Enum, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from defectlog.records.base import Record
from defectlog.records.builds import Build

if TYPE_CHECKING:
    from defectlog.records.findings import Finding
    from defectlog.records.measurements import Measurement


class Face(enum.Enum):
    """Which face of the part a photo shows."""

    TOOL = "tool side"
    BAG = "bag side"
    EDGE = "edge"
    CORE = "core"
    OTHER = "other"


class PhotoStage(enum.Enum):
    """When in the part's life a photo was taken."""

    DEMOULD = "at demould"
    PEELED = "after peel ply"
    TRIMMED = "after trim"
    REPAIRED = "after repair"


def stored_by_value(kind: type[enum.Enum]) -> Enum:
    """Keep the words themselves in the table, readable without this program."""
    return Enum(kind, values_callable=lambda e: [m.value for m in e], native_enum=False, length=40)


class Photo(Record):
    """A picture of one face of a build at one stage. The file lies under its hash."""

    __tablename__ = "photo"
    __table_args__ = (
        UniqueConstraint("build_id", "sha256"),
        CheckConstraint("width_px > 0 AND height_px > 0", "has_pixels"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    build_id: Mapped[int] = mapped_column(ForeignKey("build.id"), index=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    name: Mapped[str] = mapped_column(String(120))
    media_type: Mapped[str] = mapped_column(String(40))
    bytes: Mapped[int]
    # Of the upright picture, whichever way the camera was held.
    width_px: Mapped[int]
    height_px: Mapped[int]
    face: Mapped[Face] = mapped_column(stored_by_value(Face))
    stage: Mapped[PhotoStage] = mapped_column(stored_by_value(PhotoStage))
    note: Mapped[str] = mapped_column(Text, default="")
    # What the camera says, as text: cameras are wrong often enough.
    taken_at: Mapped[str | None] = mapped_column(String(40))
    received_at: Mapped[datetime]
    deleted_at: Mapped[datetime | None]

    build: Mapped[Build] = relationship(back_populates="photos")
    scales: Mapped[list[PhotoScale]] = relationship(
        back_populates="photo", order_by="PhotoScale.id"
    )
    marks: Mapped[list[Mark]] = relationship(
        back_populates="photo",
        order_by="Mark.id",
        primaryjoin="and_(Mark.photo_id == Photo.id, Mark.deleted_at.is_(None))",
    )
    measurements: Mapped[list[Measurement]] = relationship(
        back_populates="photo", order_by="Measurement.id.desc()"
    )

    @property
    def scale(self) -> PhotoScale | None:
        """The scale in force: the last one set."""
        return self.scales[-1] if self.scales else None

    @property
    def measurement(self) -> Measurement | None:
        """The measurement in force: the last one made."""
        return self.measurements[0] if self.measurements else None


class PhotoScale(Record):
    """How many pixels a millimetre has on a photo, and how that is known. Rows are only added."""

    __tablename__ = "photo_scale"
    __table_args__ = (CheckConstraint("px_per_mm IS NULL OR px_per_mm > 0", "is_positive"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id", ondelete="CASCADE"), index=True)
    source: Mapped[str] = mapped_column(String(20))  # card, points, none
    px_per_mm: Mapped[float | None]
    uncertainty_pct: Mapped[float | None]
    tilt_deg: Mapped[float | None]
    homography: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))  # px to mm, 3 × 3
    card_outlines: Mapped[list[Any]] = mapped_column(default=list)
    points: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    length_mm: Mapped[float | None]
    warnings: Mapped[list[Any]] = mapped_column(default=list)
    # How much too large the card was printed, where that was checked; the scale allows for it.
    print_pct: Mapped[float | None]
    at: Mapped[datetime]

    photo: Mapped[Photo] = relationship(back_populates="scales")


class Shape(enum.Enum):
    """What a mark is drawn as."""

    POINT = "point"
    LINE = "line"
    OUTLINE = "outline"
    BOX = "box"


class Mark(Record):
    """A shape drawn on a photo, belonging to a finding. Deleting it only dates it."""

    __tablename__ = "mark"

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id", ondelete="CASCADE"), index=True)
    finding_id: Mapped[int] = mapped_column(ForeignKey("finding.id"), index=True)
    shape: Mapped[Shape] = mapped_column(stored_by_value(Shape))
    points: Mapped[list[Any]]
    # Made by the browser, so that a mark sent twice is one mark.
    client_id: Mapped[str | None] = mapped_column(String(64), unique=True)
    drawn_at: Mapped[datetime]
    deleted_at: Mapped[datetime | None]

    photo: Mapped[Photo] = relationship(back_populates="marks")
    finding: Mapped[Finding] = relationship(back_populates="marks")


class Said(enum.Enum):
    """What a later photo shows of a mark."""

    GONE = "gone"
    SMALLER = "smaller"
    STILL = "still there"


class LaterLook(Record):
    """What a person saw of a mark on a later photo of the same face."""

    __tablename__ = "later_look"
    __table_args__ = (UniqueConstraint("mark_id", "photo_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    mark_id: Mapped[int] = mapped_column(ForeignKey("mark.id", ondelete="CASCADE"))
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id", ondelete="CASCADE"), index=True)
    said: Mapped[Said] = mapped_column(stored_by_value(Said))
    # The mark drawn on the later photo where something is left of it.
    carried_id: Mapped[int | None] = mapped_column(ForeignKey("mark.id", ondelete="SET NULL"))
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(80), default="")

    mark: Mapped[Mark] = relationship(foreign_keys=mark_id)
    photo: Mapped[Photo] = relationship()
    carried: Mapped[Mark | None] = relationship(foreign_keys=carried_id)
