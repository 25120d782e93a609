"""How voids lie, on points and cloth of known making."""

import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth.weave_direction import from_weave, weave_direction
from defectlog.measure.figures.arrangement import arrangement_of, edge_distance, kinds_of
from defectlog.measure.figures.spacing import clark_evans
from tests.pictures import Surface, render

rng = np.random.default_rng(4)


def words(points: np.ndarray, repeats=()) -> str | None:
    z = clark_evans(points, 1000.0 * 1000.0, perimeter=4000.0).z
    return arrangement_of(points, z, list(repeats))


def test_voids_at_random_are_scattered():
    # Of 20 random fields one is called otherwise at the 5 % level, give or take one or two.
    found = [words(np.random.default_rng(k).uniform(0, 1000, (200, 2))) for k in range(20)]

    assert found.count("scattered") >= 16


def test_voids_in_heaps_are_gathered():
    heaps = rng.uniform(100, 900, (8, 1, 2)) + rng.normal(0, 15, (8, 25, 2))

    assert words(heaps.reshape(-1, 2)) == "gathered"


def test_voids_strung_along_lines_are_in_lines():
    x = np.arange(20, 1000, 20.0)
    lines = [
        np.column_stack([x + rng.normal(0, 3, len(x)), np.full(len(x), y)]) for y in (200, 700)
    ]

    assert words(np.concatenate(lines)) == "in lines"


def test_voids_at_the_repeat_of_the_weave_are_on_its_pitch():
    grid = np.stack(np.meshgrid(np.arange(20, 1000, 60.0), np.arange(20, 1000, 60.0)), axis=-1)

    assert words(grid.reshape(-1, 2) + rng.normal(0, 2, (289, 2)), [(0, 60), (60, 0)]) == (
        "on the weave's pitch"
    )


def test_a_handful_of_voids_has_no_arrangement():
    assert words(rng.uniform(0, 1000, (8, 2))) is None


@pytest.mark.parametrize("turn", [0, 20, 45])
def test_the_weave_lies_as_it_was_drawn(turn):
    # Drawn turned clockwise, as rows run downwards; read anticlockwise.
    picture = render(Surface(size_mm=(60, 50), weave_deg=turn, fraction=0.02, seed=4))

    found = measure_voids(picture.grey, px_per_mm=12)

    assert from_weave(np.array([found.weave_deg]), (-turn) % 90)[0] < 4


def test_a_gel_coat_has_no_direction():
    flat = 1 + 0.02 * rng.standard_normal((600, 600), dtype=np.float32)

    assert weave_direction(flat, np.ones(flat.shape, bool), px_per_mm=12.0) is None


def test_paper_burnt_out_round_a_few_dots_has_no_direction():
    burnt_out = np.ones((600, 600), np.float32)
    burnt_out[290:310, 290:310] = 0.1

    assert weave_direction(burnt_out, np.ones((600, 600), bool), px_per_mm=12.0) is None


def test_the_angle_to_the_weave_is_to_the_nearer_tows():
    found = from_weave(np.array([0.0, 50.0, 95.0, -80.0]), 10.0)

    assert found.tolist() == pytest.approx([10.0, 40.0, 5.0, 0.0])


def test_kinds_go_by_shape_size_and_tows():
    words = np.array(["round", "irregular", "long", "long", "long", "irregular"], dtype=object)
    d_mm, longest_mm = np.array([(0.6, 0.7), (8, 11), (0.8, 3), (0.8, 3), (3.5, 9), (2.5, 6.5)]).T
    to_weave_deg = np.array([3.0, 3.0, 4.0, 40.0, 4.0, 40.0])

    on_cloth = kinds_of(words, d_mm, longest_mm, to_weave_deg)
    without_weave = kinds_of(words, d_mm, longest_mm, None)

    assert on_cloth == ["pinhole", "dry patch", "along a tow", "line", "line", "dry patch"]
    assert without_weave == ["pinhole", "dry patch", "line", "line", "line", "dry patch"]


def test_the_way_to_the_edge_is_to_the_nearest_side():
    inspected = np.zeros((400, 600), bool)
    inspected[100:300, 100:500] = True

    found = edge_distance(np.array([150.0, 300.0]), np.array([200.0, 120.0]), inspected)

    assert found == pytest.approx([50.0, 20.0], abs=5)


@pytest.mark.parametrize("shape", [(2, 3000), (3000, 2), (1, 3000)])
def test_a_strip_too_narrow_for_a_quarter_of_it_has_an_edge_too(shape):
    inspected = np.ones(shape, bool)
    inspected[0, 0] = False

    found = edge_distance(np.array([shape[1] / 2]), np.array([shape[0] / 2]), inspected)

    assert 0 <= found[0] <= 4
