"""Objects of a mask as lists of pixels and runs of them, against counting them one by one."""

from itertools import groupby

import cv2
import numpy as np
import pytest

from defectlog.measure.arrays.pixels import listed, pixels_of_each, runs_of, with_filled


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 1.0])
def test_runs_are_pixels_side_by_side_and_end_with_their_row(share):
    mask = np.random.default_rng(2).random((40, 57)) < share
    lengths = [len(list(run)) for row in mask for filled, run in groupby(row) if filled]

    at = np.flatnonzero(mask)
    number = np.repeat(np.arange(len(lengths)), lengths)
    runs = runs_of(at, number, mask.shape[1])

    assert runs.length.tolist() == lengths
    assert runs.first.tolist() == at[np.cumsum([0, *lengths])[:-1]].tolist()
    assert runs.own.tolist() == list(range(len(lengths)))
    assert (runs.of(at) == number).all()


@pytest.mark.parametrize("holes", [[(1, 1)], [(1, 1), (1, 2)], [(1, 1), (2, 1), (2, 2)]])
def test_objects_with_filled_holes_are_listed_as_anew(holes):
    mask = np.ones((61, 70), bool)
    mask[::10] = mask[:, ::14] = False  # into blocks of 9 x 13
    mask[:, 1:3] = np.random.default_rng(4).random((61, 2)) < 0.5
    filled = [
        (row + down, column + across)
        for row in range(3, 60, 10)
        for column in (5, 17, 20, 49, 51)
        for down, across in holes
    ]
    filled = np.ravel_multi_index(np.transpose(filled), mask.shape)
    mask.ravel()[filled] = False
    known = listed(mask)
    mask.ravel()[filled] = True

    told, anew = with_filled(known, filled[::-1], mask), listed(mask)

    assert known.holes.sum() > 20
    assert told.count == anew.count
    for name in ("at", "label", "area", "sides", "holes"):
        assert (getattr(told, name) == getattr(anew, name)).all()
    for name in ("first", "length", "own"):
        assert (getattr(told.runs, name) == getattr(anew.runs, name)).all()


def test_where_nothing_was_filled_objects_are_as_they_were():
    mask = np.ones((4, 5), bool)
    known = listed(mask)
    assert with_filled(known, np.zeros(0, np.int64), mask) is known


def told_by_opencv(mask: np.ndarray) -> tuple[int, np.ndarray]:
    count, labels = cv2.connectedComponents(mask.view(np.uint8))
    return count - 1, labels


@pytest.mark.parametrize("shape", [(80, 91), (1, 40), (40, 1), (3, 2), (400, 500)])
@pytest.mark.parametrize("share", [0.0, 0.05, 0.35, 0.6, 0.9, 1.0])
def test_every_pixel_of_an_object_has_its_number(share, shape):
    mask = np.random.default_rng(6).random(shape) < share

    known = listed(mask)

    count, labels = told_by_opencv(mask)
    assert known.count == count
    assert known.at.tolist() == np.flatnonzero(mask).tolist()
    assert (known.label == labels[mask]).all()
    assert (known.area == np.bincount(labels[mask], minlength=count + 1)[1:]).all()


def test_what_winds_about_itself_is_one_object():
    comb = np.zeros((60, 61), bool)
    comb[:, ::4] = comb[-1] = True
    rings = np.zeros_like(comb)
    for k in range(0, 28, 4):
        rings[k : 60 - k, k : 61 - k] = True
        rings[k + 2 : 58 - k, k + 2 : 59 - k] = False
        rings[k + 2 : k + 4, k + 4] = True

    for mask in (comb, rings, comb[::-1], rings[:, ::-1], rings.T):
        mask = np.ascontiguousarray(mask)
        assert listed(mask).count == told_by_opencv(mask)[0] == 1


@pytest.mark.parametrize("share", [0.05, 0.35, 0.6, 0.9])
def test_sides_and_holes_are_those_counted_one_by_one(share):
    mask = np.random.default_rng(8).random((80, 91)) < share
    mask[20:60, 30:60] = True
    mask[25:50, 35:55] = False
    mask[30:34, 40:44] = True  # an object in a hole of another

    known = listed(mask)

    labels = np.pad(told_by_opencv(mask)[1], 1)
    shown = [
        np.sum((labels == one) & (np.roll(labels, step, axis) != one))
        for one in range(1, known.count + 1)
        for axis, step in ((0, 1), (0, -1), (1, 1), (1, -1))
    ]
    assert known.sides.tolist() == np.reshape(shown, (-1, 4)).sum(axis=1).tolist()
    for one in range(1, known.count + 1):
        beside, _ = cv2.connectedComponents((labels != one).view(np.uint8), connectivity=4)
        assert known.holes[one - 1] == beside - 2


def test_the_pixels_of_some_objects_are_told_apart_in_their_order():
    label = np.array([3, 0, 2, 3, 0, 2, 2, 1])
    which = np.array([True, False, True, False, True])

    each = pixels_of_each(label, which)

    assert [own.tolist() for own in each] == [[1, 4], [2, 5, 6], []]
    assert pixels_of_each(label, np.zeros(5, dtype=bool)) == []
