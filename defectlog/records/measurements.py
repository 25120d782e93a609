"""Void measurements: what was measured, how, and what came out. Never edited, only superseded."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, LargeBinary, String, event
from sqlalchemy.orm import Mapped, deferred, mapped_column, relationship

from defectlog.records.base import Record

if TYPE_CHECKING:
    from defectlog.records.photos import Photo, PhotoScale


class Measurement(Record):
    """One run of void measurement on one photo's region."""

    __tablename__ = "measurement"
    __table_args__ = (
        CheckConstraint("void_fraction >= 0 AND void_fraction <= 1", "is_a_fraction"),
        CheckConstraint(
            "void_fraction_low <= void_fraction AND void_fraction <= void_fraction_high",
            "lies_in_its_interval",
        ),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id", ondelete="CASCADE"), index=True)
    scale_id: Mapped[int | None] = mapped_column(ForeignKey("photo_scale.id"))
    at: Mapped[datetime]
    # Who made it; nobody wrote that down at first.
    by: Mapped[str] = mapped_column(String(80), default="", server_default="")
    version: Mapped[str] = mapped_column(String(40))
    # Corners of the outlined region, or nothing for the whole picture without the card.
    region: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    settings: Mapped[dict[str, Any]]
    # What the voids turned out to be, dark or bright; nothing where none were found.
    look: Mapped[str | None] = mapped_column(String(20))
    threshold: Mapped[float | None]

    void_fraction: Mapped[float]
    void_fraction_low: Mapped[float]
    void_fraction_high: Mapped[float]
    spread_low: Mapped[float | None]
    spread_high: Mapped[float | None]
    count: Mapped[int]
    density_per_cm2: Mapped[float | None]
    largest_mm: Mapped[float | None]
    largest_px: Mapped[float | None]
    clustering: Mapped[float | None]
    inspected_px: Mapped[int]
    inspected_mm2: Mapped[float | None]
    not_inspected_fraction: Mapped[float]
    warnings: Mapped[list[Any]]
    seconds: Mapped[float]

    # The whole result as ``measure --json`` gives it, and the two masks as one-bit PNG.
    result: Mapped[dict[str, Any]] = deferred(mapped_column(JSON))
    voids_png: Mapped[bytes] = deferred(mapped_column(LargeBinary))
    inspected_png: Mapped[bytes] = deferred(mapped_column(LargeBinary))
    # A sum over all of the above (``seals``); rows older than seals have none.
    seal: Mapped[str | None] = mapped_column(String(64))

    photo: Mapped[Photo] = relationship(back_populates="measurements")
    scale: Mapped[PhotoScale | None] = relationship()


@event.listens_for(Measurement, "before_update")
def _never_edited(_mapper: object, _connection: object, target: Measurement) -> None:
    raise RuntimeError(f"measurement {target.id} is a record: measure again instead of editing it")
