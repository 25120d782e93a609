"""Guessing is slowed: after five failed tries each further one has to wait, longer every time.

The counts stand in the records, so that several workers and a restart see the same ones. A try is
counted as failed before it is looked at, and taken off the count if it was right: tries that come
at once cannot slip through together.
"""

import ipaddress
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select, text
from sqlalchemy.orm import Session

from defectlog.errors import DefectlogError
from defectlog.records.people import FailedTry

FREE = 5
LONGEST_WAIT = timedelta(seconds=60)
FORGOTTEN = timedelta(minutes=15)
# From all of the network together, for an attacker may have many addresses.
MOST_A_MINUTE = 30
AT_THE_PC = "pc"


class TooManyTriesError(DefectlogError):
    """Too many failed tries: the next one is not looked at yet."""

    def __init__(self, seconds: int) -> None:
        self.seconds = seconds
        super().__init__("There were too many wrong tries", f"wait {seconds} s, then try once more")


def zone_of(address: str, *, at_the_pc: bool) -> str:
    """What tries are counted by: the PC itself, an address, or the /64 of an IPv6 address."""
    if at_the_pc:
        return AT_THE_PC
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "unknown"
    if found.version == 6 and found.ipv4_mapped:
        found = found.ipv4_mapped
    if found.version == 6:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)


def begin_try(session: Session, zone: str, *, at: datetime) -> int:
    """Count a try before it is looked at; its number takes it off again if it was right.

    Raises
    ------
    TooManyTriesError
        If it comes too early. It is not counted then.
    """
    _one_after_the_other(session)
    session.execute(delete(FailedTry).where(FailedTry.at < at - FORGOTTEN))
    # A clock that was set back must not make anybody wait for the day it came from.
    session.execute(delete(FailedTry).where(FailedTry.at > at + LONGEST_WAIT))
    failed, last = session.execute(
        select(func.count(FailedTry.id), func.max(FailedTry.at)).where(FailedTry.zone == zone)
    ).one()
    if failed >= FREE and (wait := _wait(failed) - (at - last)) > timedelta(0):
        raise TooManyTriesError(_seconds(wait))
    if zone != AT_THE_PC:
        _refuse_a_crowd(session, at)
    counted = FailedTry(zone=zone, at=at)
    session.add(counted)
    session.flush()
    return counted.id


def _one_after_the_other(session: Session) -> None:
    """Let no other try be counted until this one is. On SQLite a change locks all others anyway."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("LOCK TABLE failed_try IN SHARE ROW EXCLUSIVE MODE"))


def was_right(session: Session, number: int) -> None:
    """Take a try off the count, and the failed ones of its zone with it."""
    counted = session.get(FailedTry, number)
    if counted is not None:
        session.execute(delete(FailedTry).where(FailedTry.zone == counted.zone))


def _wait(failed: int) -> timedelta:
    """1 s after the fifth failed try, then 2 s, 4 s … up to a minute."""
    return min(timedelta(seconds=2 ** min(failed - FREE, 10)), LONGEST_WAIT)


def _refuse_a_crowd(session: Session, at: datetime) -> None:
    minute = timedelta(minutes=1)
    crowd, first = session.execute(
        select(func.count(FailedTry.id), func.min(FailedTry.at)).where(
            FailedTry.zone != AT_THE_PC, FailedTry.at > at - minute
        )
    ).one()
    if crowd >= MOST_A_MINUTE:
        raise TooManyTriesError(_seconds(minute - (at - first)))


def _seconds(wait: timedelta) -> int:
    return max(1, round(wait.total_seconds() + 0.5))
