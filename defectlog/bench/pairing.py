"""Pair a phone: a code on the PC's screen that is good for five minutes and for one device."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, or_, select, update
from sqlalchemy.orm import Session

from defectlog.bench.people import hashed, let_in
from defectlog.errors import DefectlogError
from defectlog.records.people import CameBy, Device, PairingCode, Role

GOOD_FOR = timedelta(minutes=5)
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


def pair(session: Session, code: str, name: str, *, at: datetime) -> tuple[Device, str]:
    """Let a device in by a code, seen or typed. One statement takes the code: two cannot have it.

    Raises
    ------
    CodeNotGoodError
        If there is no such code, or it was used, or its time is over, or the clock ran back.
    """
    hashes = hashed(code.strip()), hashed(_as_typed(code))
    taken = session.execute(
        update(PairingCode)
        .where(
            or_(PairingCode.picture_sha256 == hashes[0], PairingCode.typed_sha256 == hashes[1]),
            PairingCode.used_at.is_(None),
            PairingCode.made_at <= at,
            PairingCode.until > at,
        )
        .values(used_at=at)
        .returning(PairingCode.id, PairingCode.role)
    ).one_or_none()
    if taken is None:
        raise CodeNotGoodError
    device, key = let_in(session, name, taken.role, CameBy.PAIRING, at=at)
    session.execute(
        update(PairingCode).where(PairingCode.id == taken.id).values(device_id=device.id)
    )
    return device, key


def drop_codes(session: Session) -> None:
    """No code that was shown is good any more."""
    session.execute(delete(PairingCode).where(PairingCode.used_at.is_(None)))


def _as_typed(code: str) -> str:
    return "".join(letter for letter in code.upper() if letter in _LETTERS)


def _drop_old(session: Session, at: datetime) -> None:
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
