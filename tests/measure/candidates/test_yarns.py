"""Dyed yarns in a cloth: dashes where they lie on top, and slivers between two tows over them."""

import numpy as np
import pytest

from defectlog.measure import measure_voids
from tests.measure.candidates.test_pits import cloth
from tests.measure.candidates.test_pockets import COLUMNS, PX_PER_MM, ROWS, X, Y, discs, photo

REPEAT, LONG, HALF_WIDE = 96, 44, 9


def yarns(seed: int) -> np.ndarray:
    """Where three yarns show, each begun at another place; slivers of them are 1 to 5 px wide."""
    rng, shows = np.random.default_rng(seed), np.zeros((ROWS, COLUMNS), dtype=bool)
    for x in (180, 420, 660):
        beside = np.abs(X - x) < HALF_WIDE
        for y in np.arange(rng.uniform(-REPEAT, 0), ROWS, REPEAT):
            gap = y + LONG + (REPEAT - LONG) / 2
            dash = (y <= Y) & (y + LONG > Y)
            shows |= beside & (dash | (np.abs(Y - gap) < rng.uniform(0.5, 2.5)))
    return shows


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_slivers_of_a_dyed_yarn_are_no_voids(seed):
    found = measure_voids(photo(np.where(yarns(seed), 0.2, cloth(seed))), px_per_mm=PX_PER_MM)

    assert found.count == 0
    assert found.void_fraction == 0


def across(seed: int) -> np.ndarray:
    """Where two yarns show across these, their dashes half as long."""
    rng, shows = np.random.default_rng(seed), np.zeros((ROWS, COLUMNS), dtype=bool)
    for y in (200, 470):
        beside = np.abs(Y - y) < HALF_WIDE - 1
        for x in np.arange(rng.uniform(-48, 0), COLUMNS, 48):
            dash = (x <= X) & (x + LONG / 2 > X)
            shows |= beside & (dash | (np.abs(X - x - 35) < rng.uniform(0.5, 2.5)))
    return shows


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_nor_are_those_of_yarns_across_whose_dashes_are_shorter(seed):
    dyed = yarns(seed) | across(seed)

    found = measure_voids(photo(np.where(dyed, 0.2, cloth(seed))), px_per_mm=PX_PER_MM)

    assert found.void_fraction < 1e-4


# What reaches into a yarn is drawn without that part, and of what lies on one nothing shows.
@pytest.mark.parametrize("seed", [2, 7])
def test_voids_between_the_dashes_of_a_yarn_count(seed):
    dyed = yarns(seed)
    true = discs(150, 5, seed) & ~dyed

    found = measure_voids(
        photo(np.where(dyed, 0.2, np.where(true, 0.4, cloth(seed)))), px_per_mm=PX_PER_MM
    )

    rest = true[found.inspected_mask].mean()
    assert not found.inspected_mask[dyed].all()
    assert found.void_fraction == pytest.approx(rest, rel=0.1)
    assert found.void_fraction_low < rest < found.void_fraction_high
