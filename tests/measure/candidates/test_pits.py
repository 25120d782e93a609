"""Cloth with pits where tows cross, drawn out along its gaps, and voids that lie anywhere."""

import numpy as np
import pytest

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.outlines import judging
from tests.measure.candidates.test_pockets import COLUMNS, PX_PER_MM, ROWS, X, Y, discs, photo

PITCH = 24.0


def cloth(seed: int) -> np.ndarray:
    """Light of tows over and under one another, no two of them alike."""
    rng = np.random.default_rng(seed)
    along, across = rng.normal(1, 0.05, (2, 60))
    column, row = (X // PITCH).astype(int), (Y // PITCH).astype(int)
    return np.where((column + row) % 2, along[column], across[row]).astype(np.float32)


def pits(depth: float, seed: int) -> np.ndarray:
    """How much less light one in ten crossings has, where tows leave them wide: nearly so much."""
    rng, dark = np.random.default_rng(seed), np.zeros((ROWS, COLUMNS), np.float32)
    for y in np.arange(PITCH, ROWS - PITCH, PITCH):
        for x in np.arange(PITCH, COLUMNS - PITCH, PITCH):
            down, along = rng.permutation([5.0, 2.2])
            inside = ((X - x - rng.normal(0, 2)) / along) ** 2 + ((Y - y) / down) ** 2 < 1
            if rng.uniform() < 0.1:
                dark[inside] = depth * rng.uniform(0.85, 1.15)
    return dark


def measured(gain: np.ndarray) -> VoidMeasurement:
    return measure_voids(photo(gain), px_per_mm=PX_PER_MM, look="dark")


def because_pits(found: VoidMeasurement) -> int:
    return sum(one.why == judging.PIT for one in found.rejected)


# Depths at which cloth so uneven still lets some of them count, being taken for its end.
@pytest.mark.parametrize(("seed", "depth"), [(1, 0.16), (2, 0.17), (6, 0.17)])
def test_pits_between_tows_are_no_voids(seed, depth):
    true = discs(60, 5, seed)

    found = measured(np.where(true, 0.6, cloth(seed) - pits(depth, seed)))

    assert found.count == 60
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.02)
    assert found.void_fraction_low < true.mean() < found.void_fraction_high
    assert because_pits(found) > 5


@pytest.mark.parametrize("light", [0.8, 0.75])
def test_weak_voids_beside_strong_ones_count_where_they_are_as_round(light):
    strong = discs(60, 5, seed=1)
    weak = discs(60, 5, seed=2)

    found = measured(np.where(strong, 0.4, np.where(weak, light, 1.0)))

    assert because_pits(found) == 0
    assert found.void_fraction == pytest.approx((strong | weak).mean(), rel=0.1)


def test_voids_of_many_strengths_count_where_the_weak_are_as_long_as_the_strong():
    rng = np.random.default_rng(3)
    gain = np.ones((ROWS, COLUMNS), np.float32)
    for y in np.arange(20, ROWS - 20, 30):
        for x in np.arange(20, COLUMNS - 20, 30):
            half = rng.permutation([rng.uniform(6, 9), 3.0])
            inside = ((X - x) / half[0]) ** 2 + ((Y - y) / half[1]) ** 2 < 1
            if rng.uniform() < 0.3:
                gain[inside] = rng.uniform(0.4, 0.85)

    found = measured(gain)

    assert because_pits(found) == 0
    assert found.void_fraction == pytest.approx((gain < 1).mean(), rel=0.1)
