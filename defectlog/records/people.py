"""Who may come in: the passphrase, the devices that came in, codes to pair one, failed tries."""

from __future__ import annotations

import enum
from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from defectlog.records.base import Record
from defectlog.records.photos import stored_by_value


class Role(enum.Enum):
    """What a device may do."""

    MAKER = "maker"
    READER = "reader"


class CameBy(enum.Enum):
    """How a device came in. Only a paired one is not trusted with the others."""

    PC = "at the PC"
    PASSPHRASE = "by the passphrase"
    PAIRING = "by pairing"


class Passphrase(Record):
    """The workshop's passphrase, hashed. Rows are only added; the newest one counts."""

    __tablename__ = "passphrase"

    id: Mapped[int] = mapped_column(primary_key=True)
    # Method, its costs, salt and hash in one text.
    scrypt: Mapped[str] = mapped_column(String(250))
    at: Mapped[datetime]


class Device(Record):
    """A browser that came in. Cutting it off only dates it, for its name stands in the records."""

    __tablename__ = "device"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(60))
    role: Mapped[Role] = mapped_column(stored_by_value(Role))
    came_by: Mapped[CameBy] = mapped_column(stored_by_value(CameBy))
    # SHA-256 of what its cookie holds: who reads this table cannot come in by it.
    key_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    came_at: Mapped[datetime]
    last_seen_at: Mapped[datetime]
    until: Mapped[datetime]
    cut_off_at: Mapped[datetime | None]


class PairingCode(Record):
    """One chance to pair one device: by the picture on the PC's screen, or by the typed code.

    A device that brings the code waits until somebody at the PC has seen its name and lets it in.
    """

    __tablename__ = "pairing_code"
    __table_args__ = (CheckConstraint("until > made_at", "is_short_lived"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    picture_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    typed_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    role: Mapped[Role] = mapped_column(stored_by_value(Role))
    made_at: Mapped[datetime]
    until: Mapped[datetime]
    used_at: Mapped[datetime | None]
    # Of the device that brought the code: its name, where it is, and what both screens show.
    name: Mapped[str | None] = mapped_column(String(60))
    address: Mapped[str | None] = mapped_column(String(64))
    shown: Mapped[str | None] = mapped_column(String(4))
    waiting_sha256: Mapped[str | None] = mapped_column(String(64))
    allowed_at: Mapped[datetime | None]
    device_id: Mapped[int | None] = mapped_column(ForeignKey("device.id"))


class FailedTry(Record):
    """A try to come in that failed; kept here, so that every worker and every restart counts it."""

    __tablename__ = "failed_try"

    id: Mapped[int] = mapped_column(primary_key=True)
    # Where it came from: an address, or the neighbourhood of one.
    zone: Mapped[str] = mapped_column(String(64), index=True)
    at: Mapped[datetime] = mapped_column(index=True)
