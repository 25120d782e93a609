"""One process after the other: a lock on a file, which ends with whoever holds it."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_LOOK_AGAIN_S = 0.2
# Windows has no shared locks: there each of so many takes a byte of its own.
_MOST_SHARING = 64


@contextmanager
def one_at_a_time(file: Path) -> Iterator[None]:
    """Wait until no other process is inside, and keep the others out meanwhile."""
    handle = os.open(file, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        while not took(handle):
            time.sleep(_LOOK_AGAIN_S)
        yield
    finally:
        os.close(handle)


def took(handle: int, *, shared: bool = False) -> bool:
    """Lock an open file without waiting; whether it was free. Closing it lets go.

    A shared lock leaves others theirs, and keeps out who wants the file alone.

    Raises
    ------
    OSError
        If this disk cannot lock files.
    """
    try:
        import fcntl
    except ImportError:
        return _took_on_windows(handle, shared)
    try:
        fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def _took_on_windows(handle: int, shared: bool) -> bool:
    import msvcrt

    places, length = (range(_MOST_SHARING), 1) if shared else ((0,), _MOST_SHARING)
    for place in places:
        os.lseek(handle, place, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, length)  # type: ignore[attr-defined]
        except PermissionError:
            continue
        return True
    return False
