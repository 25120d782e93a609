"""Cloth drawn with pockets of resin between its tows, over a core with grooves, and voids on it."""

import cv2
import numpy as np
import pytest

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.candidates.pockets import among_pockets

ROWS, COLUMNS, PX_PER_MM, PITCH = 600, 900, 10.0, 20.0
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
# Across the tows of either direction, in pitches: turned a little, and bent by half a pitch.
U = (0.95 * X + 0.31 * Y + 10 * np.sin(Y / 90)) / PITCH
V = (0.95 * Y - 0.31 * X + 10 * np.sin(X / 90)) / PITCH


def photo(gain: np.ndarray) -> np.ndarray:
    light = 0.3 * gain + np.random.default_rng(4).normal(0, 0.003, gain.shape)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.8)
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def cloth(deep: np.ndarray | float) -> np.ndarray:
    """So much less light where tows cross, and a third of it along their gaps."""
    gaps = [np.exp(-(((at - np.round(at)) / 0.13) ** 2)) for at in (U, V)]
    return 1 - deep * (0.33 * np.maximum(*gaps) + 0.67 * gaps[0] * gaps[1])


def uneven(least: float, most: float) -> np.ndarray:
    """A depth that differs smoothly from place to place."""
    knots = np.random.default_rng(7).uniform(least, most, (8, 12)).astype(np.float32)
    return cv2.resize(knots, (COLUMNS, ROWS), interpolation=cv2.INTER_CUBIC)


def discs(number: int, radius: float, seed: int) -> np.ndarray:
    """Where discs lie, 30 px from each other and 20 from the edge, or more."""
    rng, places = np.random.default_rng(seed), []
    while len(places) < number:
        edge = 20 + radius
        at = rng.uniform((edge, edge), (COLUMNS - edge, ROWS - edge))
        if all(np.hypot(*(at - other)) > 30 + 2 * radius for other in places):
            places.append(at)
    inside = [(X - x) ** 2 + (Y - y) ** 2 < radius**2 for x, y in places]
    return np.logical_or.reduce(inside)


def measured(gain: np.ndarray) -> VoidMeasurement:
    return measure_voids(photo(gain), px_per_mm=PX_PER_MM, look="dark")


def test_pockets_between_tows_are_no_voids_whether_they_would_count_or_not():
    true = discs(40, 5, seed=1)

    found = measured(np.where(true, 0.4, cloth(uneven(0.12, 0.24))))

    assert found.count == 40
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)
    assert found.void_fraction_low < true.mean() < found.void_fraction_high


def test_what_shows_of_the_grooves_of_a_core_is_no_void():
    true = discs(40, 5, seed=1)
    off = [np.abs(np.mod(at, 220) - 110) / PX_PER_MM for at in (X + 30, Y)]
    groove = np.exp(-((np.minimum(*off) / 0.7) ** 2))

    found = measured(np.where(true, 0.4, cloth(0.2 + 0.08 * groove)))

    assert 40 <= found.count <= 42  # a pocket or two are left
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)


@pytest.mark.parametrize("seed", [2, 3])
def test_voids_no_stronger_than_pockets_count_where_they_lie_anywhere(seed):
    true = discs(80, 5, seed=seed)

    found = measured(np.where(true, 0.72, cloth(0.1)))

    assert 80 <= found.count <= 84
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)


# Those that lie in pockets as dark as they are can't be told, and are left out.
@pytest.mark.parametrize(
    ("number", "radius", "light", "deep"), [(80, 6, 0.76, (0.1, 0.35)), (60, 5, 0.7, (0.24, 0.34))]
)
def test_pockets_as_dark_as_voids_neither_hide_them_nor_count(number, radius, light, deep):
    true = discs(number, radius, seed=1)

    found = measured(np.where(true, light, cloth(uneven(*deep))))

    assert 0.75 * number < found.count <= number
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.15)


# Discs of many strengths, of which those no stronger than the pockets they lie in are lost.
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_there_is_room_for_voids_that_are_lost_among_pockets_as_strong(seed):
    true = discs(80, 5, seed=seed)
    _, number = cv2.connectedComponents(true.astype(np.uint8))
    light = np.random.default_rng(seed).uniform(0.7, 0.9, number.max() + 1)[number]

    found = measured(np.where(true, light, cloth(uneven(0.12, 0.24))))

    assert found.void_fraction < 0.9 * true.mean()
    assert found.void_fraction_low < true.mean() < found.void_fraction_high
    assert found.void_fraction_high < 1.5 * true.mean()


@pytest.mark.parametrize(
    ("pockets", "heights", "told"),
    [
        # Of four as weak as pockets and one far stronger the four are of the cloth as well.
        (10, [0.1, 0.11, 0.11, 0.115, 0.4], [True] * 4 + [False]),
        # Not where pockets are less than twice as many, or fewer than eight.
        (9, [0.1, 0.11, 0.11, 0.115, 0.4], [False] * 5),
        (7, [0.1], [False]),
        # Nor where more than a quarter stands out further than by 1.2 times 0.1.
        (10, [0.1, 0.11, 0.11, 0.13, 0.4], [False] * 5),
    ],
)
def test_what_is_as_weak_as_pockets_among_many_of_them_is_of_the_cloth(pockets, heights, told):
    pocket = np.arange(pockets + len(heights)) < pockets
    height = np.r_[np.full(pockets, 0.1), heights]

    weak = among_pockets(pocket, height)

    assert weak[pockets:].tolist() == told
    assert not weak[:pockets].any()
