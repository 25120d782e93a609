"""Long lists worked through as two halves at the same time.

Where a list is cut hangs on its length alone, never on the machine: sums of halves come out
the same to the bit however many cores there are.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

Given = TypeVar("Given")
Done = TypeVar("Done")

# Under this length waking a second thread takes longer than it saves.
LEAST_HALVED = 60_000


def by_halves(task: Callable[[slice], Done], length: int) -> list[Done]:
    """Do a task for both halves of a list; for a short one, once for all of it.

    Parameters
    ----------
    task : given a slice of the list; must write nothing that the other half reads or writes
    length : of the list

    Returns
    -------
    What the task returned, in the order of the list.
    """
    if length < LEAST_HALVED:
        return [task(slice(0, length))]
    return list(in_two(task, slice(0, length // 2), slice(length // 2, length)))


def in_two(task: Callable[[Given], Done], first: Given, second: Given) -> tuple[Done, Done]:
    """Do a task for two things at the same time; one after the other if no thread is free.

    NumPy and OpenCV let go of Python's lock in their loops over arrays.
    """
    other = _helper().submit(task, second)
    done = task(first)
    # Still waiting behind somebody else's work: quicker to do it here.
    return done, task(second) if other.cancel() else other.result()


@cache
def _helper() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, thread_name_prefix="measure")


if hasattr(os, "register_at_fork"):  # not on Windows, which does not fork
    # A forked process has none of its parent's threads.
    os.register_at_fork(after_in_child=_helper.cache_clear)
