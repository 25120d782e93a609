"""Memory that one step gives back is kept for the next one."""

import ctypes
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
