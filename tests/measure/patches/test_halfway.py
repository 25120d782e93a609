"""Outlines drawn anew on maps of cloth whose patches are drawn by hand."""

import cv2
import numpy as np
import pytest

from defectlog.measure.cloth.cloth_maps import OUTLINE_MM
from defectlog.measure.patches.halfway import filled, largest_of, outlined_halfway

CELL_MM = 0.6
ROWS, COLUMNS = 80, 100
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
HELD = np.ones((ROWS, COLUMNS), bool)
STEP = 0.2


def disc(x: float, y: float, radius: float) -> np.ndarray:
    return (X - x) ** 2 + (Y - y) ** 2 < radius**2


def drawn(true: np.ndarray, light: np.ndarray | float, rough: np.ndarray) -> np.ndarray:
    """The outline of a patch a step above the cloth, under some light, from a rough one."""
    own = (STEP * true + light).astype(np.float32)
    near = cv2.GaussianBlur(own, (0, 0), OUTLINE_MM / CELL_MM)
    cells, above = outlined_halfway(rough, near, own, HELD, CELL_MM)
    assert np.array_equal(cells, largest_of(above > 0, rough))
    return cells


def likeness(one: np.ndarray, other: np.ndarray) -> float:
    return np.count_nonzero(one & other) / np.count_nonzero(one | other)


# Averaged over 1.5 mm, the rim of a disc of 3.6 mm lies at two fifths of its step, not half.
@pytest.mark.parametrize("radius", [6, 9, 18])
def test_a_small_patch_is_not_drawn_in_by_averaging(radius):
    true = disc(50, 40, radius)

    cells = drawn(true, 0.0, disc(50, 40, radius - 1.5))

    assert np.count_nonzero(cells) == pytest.approx(np.count_nonzero(true), rel=0.06)


def test_light_that_slopes_by_more_than_the_step_across_a_patch_does_not_move_its_outline():
    true = disc(50, 40, 15)
    light = 1.2 * STEP * (X - 50) / 30

    cells = drawn(true, light, disc(51, 40, 14))

    assert likeness(cells, true) > 0.9
    # One level for all of the outline, halfway at its middle, leaves out what lies in less light.
    near = cv2.GaussianBlur(STEP * true + light, (0, 0), OUTLINE_MM / CELL_MM)
    assert likeness(largest_of(near > STEP / 2, true), true) < 0.8


def test_an_outline_is_no_further_off_than_the_grain_of_the_cloth_lets_it():
    true = disc(50, 40, 15) | disc(62, 52, 8)
    grain = np.random.default_rng(5).normal(0, STEP / 2, HELD.shape)

    cells = drawn(true, grain, disc(50, 40, 14) | disc(62, 52, 7))

    assert likeness(cells, true) > 0.88


def test_where_there_is_nothing_to_tell_by_nothing_is_drawn():
    nothing = np.zeros(HELD.shape, np.float32)

    assert outlined_halfway(disc(50, 40, 10), nothing, nothing, ~HELD, CELL_MM) is None


def test_holes_are_filled():
    ring = disc(50, 40, 20) & ~disc(50, 40, 8)

    assert np.array_equal(filled(ring), disc(50, 40, 20))


def test_of_two_objects_the_one_that_has_most_is_taken():
    two = disc(30, 40, 8) | disc(70, 40, 12)

    assert np.array_equal(largest_of(two, disc(68, 40, 5)), disc(70, 40, 12))
    assert largest_of(two, disc(50, 75, 3)) is None
