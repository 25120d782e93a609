"""Long lists worked through as two halves at the same time, or as pieces by turns.

Where a list is cut hangs on its length alone, never on the machine: sums of halves come out
the same to the bit however many cores there are.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from threading import Lock
from typing import TypeVar

import cv2

Given = TypeVar("Given")
Done = TypeVar("Done")
Other = TypeVar("Other")

# Under this length waking a second thread takes longer than it saves.
LEAST_HALVED = 60_000
# Of so many entries, what is worked out on the way from one to the next stays in the cache.
PIECE = 65_000


def by_halves(
    task: Callable[[slice], Done], length: int, *, least: int = LEAST_HALVED
) -> list[Done]:
    """Do a task for both halves of a list; for a short one, once for all of it.

    Parameters
    ----------
    task : given a slice of the list; must write nothing that the other half reads or writes
    length : of the list
    least : a list of fewer entries is not cut

    Returns
    -------
    What the task returned, in the order of the list.
    """
    if length < least:
        return [task(slice(0, length))]
    return list(in_two(task, slice(0, length // 2), slice(length // 2, length)))


def by_pieces(
    task: Callable[[list[slice]], Done], length: int, *, piece: int = PIECE
) -> list[Done]:
    """Do a task for every other piece of a list, and for those between, as ``by_halves`` does.

    For what takes many steps for every entry, and for some parts of the list longer than for
    others; ``piece`` is the entries of each, or the rows of a picture.
    """
    starts = range(0, length, piece)
    pieces = [slice(start, min(start + piece, length)) for start in starts]
    return by_turns(task, pieces)


def by_turns(task: Callable[[list[Given]], Done], given: list[Given]) -> list[Done]:
    """Do a task for every other of some things, and for those between at the same time."""
    if len(given) < 2:
        return [task(given)]
    return list(in_two(task, given[::2], given[1::2]))


def in_two(task: Callable[[Given], Done], first: Given, second: Given) -> tuple[Done, Done]:
    """Do a task for two things at the same time; one after the other if no thread is free.

    NumPy and OpenCV let go of Python's lock in their loops over arrays.
    """
    return both(lambda: task(first), lambda: task(second))


def for_each(task: Callable[[Given], Done], given: Iterable[Given]) -> dict[Given, Done]:
    """Do a task for the first of some things while it is done for the others, one by one."""
    given = list(given)

    def done(some: list[Given]) -> dict[Given, Done]:
        return {one: task(one) for one in some}

    first, others = in_two(done, given[:1], given[1:])
    return first | others


def both(
    first: Callable[[], Done], second: Callable[[], Other], length: int = LEAST_HALVED
) -> tuple[Done, Other]:
    """Do two different things at the same time, as ``in_two`` does one for two.

    With the ``length`` of a list that both work through, they do a short one one by one.
    """
    if length < LEAST_HALVED:
        return first(), second()
    other = begun(second)
    return first(), other()


def begun(task: Callable[[], Done]) -> Callable[[], Done]:
    """Begin to do something beside what follows; the result is what asks for its result."""
    done = _helper().submit(task)
    # Still waiting behind somebody else's work: quicker to do it here.
    return lambda: task() if done.cancel() else done.result()


# For each that goes on without them how many threads OpenCV had before: the first of these it has
# again once the last is done.
_before: list[int] = []
_one_by_one = Lock()


@contextmanager
def without_opencv_threads() -> Iterator[None]:
    """Have OpenCV start no threads of its own while something is done in two halves.

    They wait for each other at full speed, on the cores that are worked on: a fifteenth of the
    time of measuring.
    """
    with _one_by_one:
        _before.append(cv2.getNumThreads())
        cv2.setNumThreads(1)
    try:
        yield
    finally:
        with _one_by_one:
            if len(_before) == 1:
                cv2.setNumThreads(_before[0])
            _before.pop()


@cache
def _helper() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, thread_name_prefix="measure")


def _begin_anew() -> None:
    """In a forked process, which has none of its parent's threads, nor what these were doing."""
    global _one_by_one
    _helper.cache_clear()
    _before.clear()
    _one_by_one = Lock()


if hasattr(os, "register_at_fork"):  # not on Windows, which does not fork
    os.register_at_fork(after_in_child=_begin_anew)
