"""Who writes: the name that records of this session are kept under."""

from sqlalchemy.orm import Session

THIS_PC = "this PC"
NAME_LENGTH = 80

_KEY = "who"


def write_as(session: Session, name: str) -> None:
    """Say who writes in a session: a person, or the device they write from."""
    session.info[_KEY] = name[:NAME_LENGTH]


def who_writes(session: Session) -> str:
    """Who writes in a session; this PC, if nobody said otherwise."""
    return str(session.info.get(_KEY) or THIS_PC)
