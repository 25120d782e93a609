"""Who may come in, as what, and for how long: devices, how they get their key, how they lose it."""

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from defectlog.errors import DefectlogError, FieldError, NotFoundError
from defectlog.records.people import CameBy, Device, Role

THIS_PC = "this PC"
MOST_DEVICES = 50
NAME_LENGTH = 60

# How long a key is good for: without being used, and at all.
_IDLE = {
    CameBy.PC: timedelta(days=7),
    CameBy.PASSPHRASE: timedelta(hours=12),
    CameBy.PAIRING: timedelta(days=30),
}
_AT_ALL = {
    CameBy.PC: timedelta(days=30),
    CameBy.PASSPHRASE: timedelta(days=7),
    CameBy.PAIRING: timedelta(days=180),
}
# Written down once a minute at most; a read should not cost a write.
_SEEN_EVERY = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever sent a request. ``keeps``: is trusted with devices, originals and backups."""

    device_id: int | None
    name: str
    may_change: bool
    keeps: bool


class TooManyDevicesError(DefectlogError):
    """As many devices as there may be are in already."""

    def __init__(self) -> None:
        super().__init__(
            f"{MOST_DEVICES} devices are in already", "cut off one that is no longer used"
        )


class ReaderMayNotError(DefectlogError):
    """A device that may only read tried to change something."""

    def __init__(self) -> None:
        super().__init__(
            "This device may read and change nothing",
            "ask at the PC to pair it as a maker",
        )


class CutOffError(DefectlogError):
    """A device was cut off while it was saving."""

    def __init__(self) -> None:
        super().__init__("This device was cut off", "ask for a new code at the PC")


def let_in(
    session: Session, name: str, role: Role, came_by: CameBy, *, at: datetime
) -> tuple[Device, str]:
    """Let a device in; the key is said once, here, and only its hash is kept.

    Raises
    ------
    FieldError
        If the name is empty.
    TooManyDevicesError
        If there are as many as there may be.
    """
    name = clean_name(name)
    if not name:
        raise FieldError("name", "The device has no name", "give it one, such as Anna's phone")
    refuse_too_many(session, at)
    key = secrets.token_urlsafe(32)
    device = Device(
        name=name,
        role=role,
        came_by=came_by,
        key_sha256=hashed(key),
        came_at=at,
        last_seen_at=at,
        until=at + _AT_ALL[came_by],
    )
    session.add(device)
    session.flush()
    return device, key


def refuse_too_many(session: Session, at: datetime) -> None:
    """Raise ``TooManyDevicesError`` if as many devices are in as there may be."""
    if len(devices_in(session, at)) >= MOST_DEVICES:
        raise TooManyDevicesError


def clean_name(name: str) -> str:
    """A name as it is shown: nothing that cannot be seen, not too long."""
    seen = "".join(c for c in name if not unicodedata.category(c).startswith("C") or c.isspace())
    return " ".join(seen.split())[:NAME_LENGTH]


def find_device(session: Session, key: str, at: datetime) -> Device | None:
    """The device a key belongs to, if that is still let in."""
    device = session.scalars(select(Device).where(Device.key_sha256 == hashed(key))).one_or_none()
    return device if device is not None and is_in(device, at) else None


def is_in(device: Device, at: datetime) -> bool:
    """Whether a device is let in now. A clock set back by a day lets nobody in."""
    return (
        device.cut_off_at is None
        and device.came_at - timedelta(days=1) < at < device.until
        and at - device.last_seen_at < _IDLE[device.came_by]
    )


def visitor_of(device: Device) -> Visitor:
    """What a device may do."""
    may_change = device.role is Role.MAKER
    return Visitor(
        device.id, device.name, may_change, may_change and device.came_by is not CameBy.PAIRING
    )


def is_due_to_be_seen(device: Device, at: datetime) -> bool:
    """Whether it should be written down that the device was here."""
    return abs(at - device.last_seen_at) >= _SEEN_EVERY


def was_seen(session: Session, number: int, at: datetime) -> None:
    """Write down that a device was here."""
    session.execute(update(Device).where(Device.id == number).values(last_seen_at=at))


def devices_in(session: Session, at: datetime) -> list[Device]:
    """All devices that are let in now, the last seen first."""
    rows = select(Device).where(Device.cut_off_at.is_(None)).order_by(Device.last_seen_at.desc())
    return [device for device in session.scalars(rows) if is_in(device, at)]


def cut_off(session: Session, number: int, *, at: datetime) -> Device:
    """From now on the device is not let in."""
    device = session.get(Device, number)
    if device is None:
        raise NotFoundError("device", number)
    device.cut_off_at = device.cut_off_at or at
    return device


def cut_all_off(session: Session, *, at: datetime) -> int:
    """Log out everywhere; how many devices that were."""
    were_in = len(devices_in(session, at))
    session.execute(update(Device).where(Device.cut_off_at.is_(None)).values(cut_off_at=at))
    return were_in


def make_sure(session: Session, visitor: Visitor | None) -> None:
    """Look again, under the lock of a change, whether the visitor may make it.

    Raises
    ------
    ReaderMayNotError
        If it may only read.
    CutOffError
        If it was cut off since the request began, while a long upload was under way say.
    """
    if visitor is None:
        raise CutOffError
    if not visitor.may_change:
        raise ReaderMayNotError
    if visitor.device_id is None:
        return
    device = session.get(Device, visitor.device_id)
    if device is None or device.cut_off_at is not None:
        raise CutOffError


def hashed(secret: str) -> str:
    """What is kept of a random secret. It has too many bits to be guessed, so one hash will do."""
    return hashlib.sha256(secret.encode()).hexdigest()
