"""Pair a phone: a code on the PC's screen that is good for five minutes and for one device.

The code alone lets nobody in, for a screen can be photographed over a shoulder. Whoever brings it
waits, both screens show the same four figures, and the person at the PC lets the device in.
"""

import enum
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, delete, or_, select, update
from sqlalchemy.orm import Session

from defectlog.bench.people import clean_name, hashed, let_in, refuse_too_many
from defectlog.errors import DefectlogError
from defectlog.records.people import CameBy, Device, PairingCode, Role

GOOD_FOR = timedelta(minutes=5)
# So long the person at the PC has to let a device in, and so long the device to come for its key.
WAITS_FOR = timedelta(minutes=2)
MOST_OPEN = 3
# Without letters that are taken for another: no I, L, O, U, 0, 1.
_LETTERS = "ABCDEFGHJKMNPQRSTVWXYZ23456789"
_TYPED_LENGTH = 8


@dataclass(frozen=True, slots=True)
class NewCode:
    """A code as it is shown, once: in the picture, and to be typed as ``ABCD-EFGH``."""

    number: int
    picture: str
    typed: str
    role: Role
    until: datetime


class CodeNotGoodError(DefectlogError):
    """A code that is wrong, used, or too old: which of them is not said."""

    def __init__(self) -> None:
        super().__init__("That code is not good", "ask for a new one at the PC")


def new_code(session: Session, role: Role, *, at: datetime) -> NewCode:
    """Make a code. Of the codes not used yet only the newest few stay good."""
    _drop_old(session, at)
    picture = secrets.token_urlsafe(20)
    typed = "".join(secrets.choice(_LETTERS) for _ in range(_TYPED_LENGTH))
    row = PairingCode(
        picture_sha256=hashed(picture),
        typed_sha256=hashed(typed),
        role=role,
        made_at=at,
        until=at + GOOD_FOR,
    )
    session.add(row)
    session.flush()
    shown = f"{typed[:4]}-{typed[4:]}"
    return NewCode(row.id, picture, shown, role, row.until)


@dataclass(frozen=True, slots=True)
class Asking:
    """A device that brought a code and waits at the door. ``shown``: what its screen shows, too."""

    number: int
    name: str
    address: str
    shown: str
    role: Role
    since: datetime


class Standing(enum.Enum):
    """How it stands with a device that brought a code."""

    WAITS = "waits"
    ALLOWED = "allowed"
    OVER = "over"


class NobodyWaitsError(DefectlogError):
    """Somebody was let in or turned away who waits no longer."""

    def __init__(self) -> None:
        super().__init__("No device waits with that code any more", "show another code")


def ask(session: Session, code: str, name: str, address: str, *, at: datetime) -> str:
    """Bring a code, seen or typed; returns the key to wait with, of which the hash is kept.

    One statement takes the code: two devices cannot have it.

    Raises
    ------
    CodeNotGoodError
        If there is no such code, or it was used, or its time is over, or the clock ran back.
    TooManyDevicesError
        If there are as many as there may be. The code stays good.
    """
    key = secrets.token_urlsafe(32)
    hashes = hashed(code.strip()), hashed(_as_typed(code))
    taken = session.execute(
        update(PairingCode)
        .where(
            or_(PairingCode.picture_sha256 == hashes[0], PairingCode.typed_sha256 == hashes[1]),
            PairingCode.used_at.is_(None),
            PairingCode.made_at <= at,
            PairingCode.until > at,
        )
        .values(
            used_at=at,
            name=clean_name(name),
            address=address[:64],
            shown=f"{secrets.randbelow(10_000):04d}",
            waiting_sha256=hashed(key),
        )
        .returning(PairingCode.id)
    ).one_or_none()
    if taken is None:
        raise CodeNotGoodError
    # Only who has a good code learns of this; the change, and so the use of it, is taken back.
    refuse_too_many(session, at)
    return key


def asking(session: Session, *, at: datetime) -> list[Asking]:
    """The devices that wait to be let in, the longest waiting first."""
    rows = session.scalars(select(PairingCode).where(_waits(at)).order_by(PairingCode.used_at))
    return [
        Asking(row.id, row.name or "", row.address or "", row.shown or "", row.role, row.used_at)
        for row in rows
        if row.used_at is not None
    ]


def allow(session: Session, number: int, *, at: datetime) -> str:
    """Let the device in that waits with a code, by its name; it comes for its key itself.

    Raises
    ------
    NobodyWaitsError
        If none does, or not any more.
    """
    name = session.execute(
        update(PairingCode)
        .where(PairingCode.id == number, _waits(at))
        .values(allowed_at=at)
        .returning(PairingCode.name)
    ).scalar_one_or_none()
    if name is None:
        raise NobodyWaitsError
    return name


def turn_away(session: Session, number: int) -> None:
    """Do not let the device in that waits with a code. One that is in already is to be cut off."""
    session.execute(
        delete(PairingCode).where(PairingCode.id == number, PairingCode.device_id.is_(None))
    )


def standing(session: Session, key: str, *, at: datetime) -> tuple[Standing, str]:
    """How it stands with the device that waits with a key, and the figures its screen shows."""
    row = session.scalars(
        select(PairingCode).where(PairingCode.waiting_sha256 == hashed(key))
    ).one_or_none()
    if row is None or row.used_at is None or row.device_id is not None:
        return Standing.OVER, ""
    begun = row.allowed_at or row.used_at
    if not begun <= at < begun + WAITS_FOR:
        return Standing.OVER, ""
    return Standing.ALLOWED if row.allowed_at else Standing.WAITS, row.shown or ""


def come_in(session: Session, key: str, *, at: datetime) -> tuple[Device, str]:
    """Fetch the key of a device that was let in. A second time there is none.

    Raises
    ------
    CodeNotGoodError
        If it was not let in, or too long ago, or came in before.
    """
    begun = PairingCode.allowed_at
    taken = session.execute(
        update(PairingCode)
        .where(
            PairingCode.waiting_sha256 == hashed(key),
            PairingCode.device_id.is_(None),
            and_(begun <= at, begun > at - WAITS_FOR),
        )
        # Taken by this very statement: of two requests at once the later one finds no such hash.
        .values(waiting_sha256=None)
        .returning(PairingCode.id, PairingCode.role, PairingCode.name)
    ).one_or_none()
    if taken is None:
        raise CodeNotGoodError
    device, device_key = let_in(session, taken.name, taken.role, CameBy.PAIRING, at=at)
    session.execute(
        update(PairingCode).where(PairingCode.id == taken.id).values(device_id=device.id)
    )
    return device, device_key


def drop_codes(session: Session) -> None:
    """No code that was shown is good any more, and nobody who brought one waits."""
    session.execute(delete(PairingCode).where(PairingCode.device_id.is_(None)))


def _waits(at: datetime) -> ColumnElement[bool]:
    return and_(
        PairingCode.device_id.is_(None),
        PairingCode.allowed_at.is_(None),
        PairingCode.used_at <= at,
        PairingCode.used_at > at - WAITS_FOR,
    )


def _as_typed(code: str) -> str:
    return "".join(letter for letter in code.upper() if letter in _LETTERS)


def _drop_old(session: Session, at: datetime) -> None:
    session.execute(
        delete(PairingCode).where(
            PairingCode.device_id.is_(None), PairingCode.used_at < at - 2 * WAITS_FOR
        )
    )
    open_ones = session.scalars(
        select(PairingCode).where(PairingCode.used_at.is_(None)).order_by(PairingCode.id.desc())
    ).all()
    good = [code for code in open_ones if code.made_at <= at < code.until]
    for code in open_ones:
        if code not in good[: MOST_OPEN - 1]:
            session.delete(code)


def who_came(session: Session, number: int) -> str:
    """The name of the device that came in by a code; empty as long as none has."""
    code = session.get(PairingCode, number)
    device = session.get(Device, code.device_id) if code and code.device_id else None
    return device.name if device else ""
