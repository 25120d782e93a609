"""One process after the other: a lock on a file, which ends with whoever holds it."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_LOOK_AGAIN_S = 0.2


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


def took(handle: int) -> bool:
    """Lock an open file without waiting; whether it was free. Closing it lets go.

    Raises
    ------
    OSError
        If this disk cannot lock files.
    """
    try:
        try:
            import fcntl
        except ImportError:  # Windows
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True
