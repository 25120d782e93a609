"""Work done in two halves: the same figures on any machine, and no thread waited for in vain."""

import os
import threading

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.halves import (
    LEAST_HALVED,
    PIECE,
    _helper,
    both,
    by_halves,
    by_pieces,
    in_two,
    without_opencv_threads,
)
from defectlog.measure.arrays.pixels import add_up, pixels_of
from tests.pictures import CASES, render


def test_a_short_list_is_done_in_one_and_a_long_one_in_two_parts():
    assert by_halves(lambda part: part, 10) == [slice(0, 10)]
    first, second = by_halves(lambda part: part, LEAST_HALVED + 1)
    assert (first.start, second.stop) == (0, LEAST_HALVED + 1)
    assert first.stop == second.start


def test_pieces_are_dealt_to_either_side_by_turns_and_make_up_the_list():
    first, second = by_pieces(lambda parts: parts, 2 * PIECE + 8)
    assert first == [slice(0, PIECE), slice(2 * PIECE, 2 * PIECE + 8)]
    assert second == [slice(PIECE, 2 * PIECE)]
    assert by_pieces(lambda parts: parts, PIECE) == [[slice(0, PIECE)]]
    assert by_pieces(lambda parts: parts, 0) == [[]]


def test_two_different_things_come_back_in_the_order_they_were_given():
    assert both(lambda: "one", lambda: 2) == ("one", 2)


def test_sums_added_up_in_pieces_are_numpys_own():
    rng = np.random.default_rng(7)
    label, values = rng.integers(0, 40, 5000), rng.random(5000, np.float32)
    sums, counts = np.zeros(40), np.zeros(40, np.int64)
    for part in (slice(0, 1900), slice(1900, None)):
        add_up(sums, label[part], values[part])
        add_up(counts, label[part], 1)
    assert (sums == np.bincount(label, values, 40)).all()
    assert (counts == np.bincount(label, minlength=40)).all()


def test_work_within_work_does_not_wait_for_itself():
    def both(name: str) -> tuple[str, str]:
        return in_two(lambda part: name + part, "1", "2")

    assert in_two(both, "a", "b") == (("a1", "a2"), ("b1", "b2"))


def test_a_fault_in_either_half_is_the_callers():
    def faulty(part: int) -> float:
        return 1 / part

    for parts in ((0, 1), (1, 0)):
        with pytest.raises(ZeroDivisionError):
            in_two(faulty, *parts)


def test_opencv_has_its_threads_again_once_the_last_is_done():
    cores = cv2.getNumThreads()
    cv2.setNumThreads(2)
    try:
        first, second = without_opencv_threads(), without_opencv_threads()
        with first:
            second.__enter__()
            assert cv2.getNumThreads() == 1
        assert cv2.getNumThreads() == 1  # for the second goes on
        second.__exit__(None, None, None)
        assert cv2.getNumThreads() == 2
        with pytest.raises(ZeroDivisionError), without_opencv_threads():
            raise ZeroDivisionError
        assert cv2.getNumThreads() == 2
    finally:
        cv2.setNumThreads(cores)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
def test_a_forked_process_finds_a_thread_of_its_own():
    in_two(abs, 1, 2)  # the parent has its thread
    child = os.fork()
    if child == 0:
        done = []
        work = threading.Thread(target=lambda: done.append(in_two(abs, -1, -2)), daemon=True)
        work.start()
        work.join(20)
        os._exit(0 if done == [(1, 2)] else 1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


@pytest.mark.parametrize("shape", [(300, 401), (1, 70_001), (503, 200)])
def test_pixels_are_those_of_numpy(shape):
    mask = np.random.default_rng(4).random(shape) > 0.4
    assert (pixels_of(mask) == np.flatnonzero(mask)).all()


def test_a_picture_measures_the_same_to_the_bit_whether_or_not_a_second_thread_is_free():
    grey = render(CASES["dense"]).grey
    with_two = measure_voids(grey, px_per_mm=12.0)
    busy, cores = threading.Event(), cv2.getNumThreads()
    _helper().submit(busy.wait, 60)
    cv2.setNumThreads(1)
    try:
        alone = measure_voids(grey, px_per_mm=12.0)
    finally:
        busy.set()
        cv2.setNumThreads(cores)
    assert alone.voids == with_two.voids
    assert alone.void_fraction_high == with_two.void_fraction_high
    assert (alone.voids_mask == with_two.voids_mask).all()
