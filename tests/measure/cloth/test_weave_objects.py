"""What repeats with the weave, on drawn lattices."""

import numpy as np

from defectlog.measure.arrays.pixels import listed
from defectlog.measure.cloth.weave_objects import Objects, objects_of, repeating


def dots(places, shape=(400, 400), size=6) -> Objects:
    mask = np.zeros(shape, bool)
    for y, x in places:
        mask[y : y + size, x : x + size] = True
    return objects_of(mask, listed(mask))


LATTICE = [(20 + 48 * i, 30 + 40 * j) for i in range(8) for j in range(9)]


def test_dots_that_stand_at_the_repeat_are_cloth():
    found = repeating(dots(LATTICE), [(48, 0)])

    assert found[1:].all()


def test_dots_at_random_are_not():
    rng = np.random.default_rng(8)
    places = {(int(y) * 12, int(x) * 12) for y, x in rng.integers(0, 32, (70, 2))}

    assert not repeating(dots(sorted(places)), [(48, 0), (0, 40)]).any()


def test_a_void_among_cloth_stays_a_void():
    objects = dots([*LATTICE, (45, 52), (261, 255)])

    found = repeating(objects, [(48, 0), (0, 40)])

    voids = objects.at_places(np.array([45, 261]), np.array([52, 255]))
    assert np.delete(found, [0, *voids]).all()
    assert not found[voids].any()


def test_of_many_voids_the_few_that_happen_to_stand_at_the_repeat_stay_voids():
    # Six of eighty: dense voids meet each other at any distance.
    rng = np.random.default_rng(3)
    random = [
        (int(y) * 11, int(x) * 11) for y, x in rng.permutation(np.argwhere(np.ones((35, 35))))
    ]
    line = [(3 + 48 * i, 390) for i in range(6)]
    objects = dots([*line, *random[:74]])

    assert not repeating(objects, [(48, 0)])[objects.at_places(*np.transpose(line))].any()
    assert repeating(dots(line), [(48, 0)])[1:].all()


def test_floats_of_a_yarn_that_come_up_at_a_spacing_of_their_own_are_cloth():
    yarn = [(10 + 37 * i, 20 + 29 * i) for i in range(10)]
    rng = np.random.default_rng(5)
    few = [(int(y), int(x)) for y, x in rng.integers(0, 390, (10, 2))]

    assert repeating(dots(yarn, size=7), [(0, 48)])[1:].all()
    assert not repeating(dots(few, size=7), [(0, 48)]).any()


def test_three_dots_prove_no_cloth():
    assert not repeating(dots([(20, 20), (68, 20), (116, 20)]), [(48, 0)]).any()
