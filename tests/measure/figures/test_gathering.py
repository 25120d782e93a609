"""More voids here than there, on points of known making."""

import numpy as np
import pytest
from scipy.stats import chi2

from defectlog.measure.figures.arrangement import arrangement_of
from defectlog.measure.figures.gathering import _chi2_quantile, gathers_in_parts
from defectlog.measure.figures.spacing import clark_evans

ALL = np.ones((900, 1200), bool)


def at_random(n: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).uniform((0, 0), (1200, 900), (n, 2))


def apart(seed: int) -> np.ndarray:
    """Places on a grid of 20, off it by up to 5 each way: none nearer to another than 10."""
    y, x = np.mgrid[10:900:20, 10:1200:20]
    grid = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    return grid + np.random.default_rng(seed).uniform(-5, 5, grid.shape)


@pytest.mark.parametrize("n", [12, 60, 1500])
def test_points_at_random_gather_once_in_a_thousand_fields(n):
    assert sum(gathers_in_parts(at_random(n, seed), ALL) for seed in range(150)) <= 2


def test_many_here_and_few_there_are_gathered_though_none_touches_another():
    points = apart(1)
    kept = np.random.default_rng(2).uniform(0, 1, len(points)) < 1 - 0.8 * points[:, 1] / 900
    crowded = points[kept]

    z = clark_evans(crowded, 1200.0 * 900.0, perimeter=4200.0).z
    assert z > 2  # their neighbours are further off than chance has it
    assert gathers_in_parts(crowded, ALL)
    assert arrangement_of(crowded, z, [], gathers=True) == "gathered"


def test_the_shape_of_the_surface_is_no_gathering():
    inside = np.zeros_like(ALL)
    inside[:, :500] = True
    inside[300:500] = True
    points = at_random(900, 5)
    x, y = points.astype(int).T

    assert not gathers_in_parts(points[inside[y, x]], inside)


def test_the_limit_is_that_of_chi_square():
    for freedom in (3, 8, 35):
        assert _chi2_quantile(freedom) == pytest.approx(chi2.ppf(0.999, freedom), rel=0.02)


@pytest.mark.filterwarnings("error")
def test_voids_in_slivers_of_surface_alone_say_nothing():
    inside = np.zeros_like(ALL)
    inside[:, :600] = True
    inside[:30] = True
    sliver = np.column_stack([np.linspace(700, 1190, 12), np.full(12, 15.0)])

    assert not gathers_in_parts(sliver, inside)
