"""The Clark–Evans index, against published point patterns."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from defectlog.measure.figures.spacing import clark_evans, nearest_distances

# Biological cells, 42 centres in a unit square: B. D. Ripley, J. R. Statist. Soc. B 39 (1977)
# 172–212, as carried by the R library spatstat.data.
CELLS = np.array(
    """0.35 0.025 0.487 0.087 0.637 0.05 0.775 0.025 0.825 0.125 0.087 0.187 0.237 0.15 0.4 0.162
    0.575 0.212 0.737 0.237 0.062 0.362 0.212 0.337 0.325 0.287 0.45 0.287 0.65 0.362 0.9 0.262
    0.337 0.462 0.462 0.425 0.6 0.475 0.8 0.387 0.938 0.4 0.15 0.5 0.35 0.6 0.562 0.575 0.725 0.512
    0.862 0.525 0.987 0.512 0.062 0.75 0.175 0.65 0.337 0.75 0.462 0.75 0.525 0.65 0.737 0.687
    0.862 0.637 0.237 0.787 0.637 0.812 0.775 0.85 0.9 0.775 0.175 0.912 0.35 0.962 0.462 0.9
    0.625 0.95""".split(),
    dtype=float,
).reshape(-1, 2)


def test_the_index_of_the_biological_cells_is_that_of_spatstat():
    # spatstat.explore 3.0, clarkevans without edge correction: R = 1.6716795, z = 8.327557.
    found = clark_evans(CELLS, 1.0)

    assert found.mean_distance == pytest.approx(0.1289728746, abs=1e-9)
    assert found.expected_distance == pytest.approx(0.07715167, abs=1e-7)
    assert found.index == pytest.approx(1.6716795, abs=1e-6)
    assert found.z == pytest.approx(8.327557, abs=1e-5)
    assert found.word == "evenly spread"
    assert not found.edge_corrected


def test_with_the_edge_allowed_for_it_is_that_of_donnelly():
    # spatstat.explore 3.0, correction "Donnelly": 1.5604256.
    found = clark_evans(CELLS, 1.0, perimeter=4.0)

    assert found.index == pytest.approx(1.5604256, abs=1e-6)
    assert found.edge_corrected


def test_a_square_lattice_has_index_two():
    # Every point has its neighbours at distance 1, of 1 point per unit area: 1 / 0.5 = 2.
    x, y = np.meshgrid(np.arange(60.0), np.arange(60.0))

    found = clark_evans(np.column_stack([x.ravel(), y.ravel()]), 3600.0)

    assert found.index == pytest.approx(2.0, abs=1e-12)


def test_a_triangular_lattice_is_as_even_as_points_can_be():
    # 2·√(2/√3) = 2.1491399; rows are √3/2 apart and shifted by half.
    rows = np.repeat(np.arange(80), 80)
    x = np.tile(np.arange(80.0), 80) + 0.5 * (rows % 2)
    points = np.column_stack([x, rows * np.sqrt(3) / 2])

    found = clark_evans(points, 6400 * np.sqrt(3) / 2)

    assert found.index == pytest.approx(2.1491399, abs=1e-6)


def test_points_at_random_are_called_so_about_19_times_in_20():
    rng = np.random.default_rng(12)
    words = [clark_evans(rng.random((100, 2)), 1.0, perimeter=4.0).word for _ in range(200)]

    # 200 tries at 5 %: 10 expected, 4 standard deviations are 12.
    assert words.count("at random") >= 178


def test_points_in_heaps_are_clustered():
    rng = np.random.default_rng(2)
    heaps = rng.random((8, 2)).repeat(12, axis=0) + rng.normal(0, 0.01, (96, 2))

    assert clark_evans(heaps, 1.0, perimeter=4.0).word == "clustered"


def test_one_point_has_no_index():
    assert clark_evans(np.array([[0.5, 0.5]]), 1.0) is None


def test_the_unit_of_length_makes_no_difference():
    found = clark_evans(CELLS * 25.4, 25.4**2, perimeter=4 * 25.4)

    assert found.index == pytest.approx(1.5604256, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_nearest_distances_are_those_of_a_search_tree(seed):
    rng = np.random.default_rng(seed)
    heaps = rng.uniform(0, 100, (6, 1, 2)) + rng.normal(0, 1, (6, 20, 2))
    points = np.concatenate([rng.uniform((0, 0), (100, 300), (150, 2)), heaps.reshape(-1, 2)])

    tree = cKDTree(points).query(points, k=2)[0][:, 1]

    assert nearest_distances(points) == pytest.approx(tree, rel=1e-12)
