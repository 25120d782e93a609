"""Memory that one step gives back is kept for the next one, and no garbage looked for in vain."""

import ctypes
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

# Of glibc's malloc.h.
M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3
KEPT_BYTES = 256 * 2**20
LARGE_BYTES = 64 * 2**20


@cache
def keep_freed_memory() -> None:
    """Have glibc keep up to 256 MB that were freed, if that is what serves memory here.

    Else the pages of every list go back to the system and are asked for, and cleared, again at
    the next step: a tenth of the time of measuring.
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):
        return  # another system; it has its own ways
    mallopt(M_MMAP_THRESHOLD, LARGE_BYTES)
    mallopt(M_TRIM_THRESHOLD, KEPT_BYTES)


@contextmanager
def without_collecting() -> Iterator[None]:
    """Have Python look for no garbage while thousands of tuples are made that are none.

    Else it looks through them each time that there are some hundred more: as long as they take.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()
