"""Tracer yarns drawn dash by dash along a bent line."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import ONE
from defectlog.measure.candidates.dashes import in_file
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.candidates.single_dashes import cut_off, left_of_a_yarn, like_the_cloth
from defectlog.measure.cloth.surface import Surface, prepare
from defectlog.measure.outlines.judging import WEAVE, Turned
from defectlog.measure.outlines.shapes import Shapes, shapes_of
from tests.benchmarks.voids_accuracy import drawn as drawn_by_hand

SIDE = 600
HALF = (14, 5)  # of a dash, in pixels
WHOLE = np.ones((SIDE, SIDE), bool)


def yarn(first: int = 0, last: int = 9) -> list[tuple[float, float, float]]:
    """Middles of dashes 60 px apart on an arc of 900 px, and which way they point, in degrees."""
    turns = [60 * (k - 4.5) / 900 for k in range(first, last)]
    return [(300 + 900 * np.sin(t), 1100 - 900 * np.cos(t), np.degrees(t)) for t in turns]


def drawn(*dashes: tuple[float, float, float]) -> tuple[Shapes, np.ndarray, np.ndarray]:
    picture = np.zeros((SIDE, SIDE), np.uint8)
    for x, y, turn in dashes:
        corners = cv2.boxPoints(((x, y), (2 * HALF[0], 2 * HALF[1]), turn))
        cv2.fillPoly(picture, [np.rint(corners).astype(np.int32)], 1)
    shapes = shapes_of(picture > 0)
    return shapes, shapes.area, np.full(len(shapes.area), 0.5)


def surface_of(light: np.ndarray) -> Surface:
    grey = np.round(255 * light ** (1 / 2.2)).astype(np.uint8)
    return prepare(grey, np.ones(grey.shape, bool), 10.0)


def strewn(number: int, seed: int) -> list[tuple[float, float, float]]:
    rng = np.random.default_rng(seed)
    return [(*rng.uniform(30, SIDE - 30, 2), 0.0) for _ in range(number)]


def test_dashes_that_follow_a_bent_tow_are_a_yarn():
    assert in_file(*drawn(*yarn()), []).all()


def test_a_yarn_of_too_few_to_be_no_chance_is_none():
    assert in_file(*drawn(*yarn(last=5)), []).all()
    assert not in_file(*drawn(*yarn(last=4)), []).any()


def test_four_in_file_are_a_yarn_where_hardly_anything_but_the_like_was_found():
    four, another = yarn(last=4), (450.0, 300.0, -5.0)  # of the next file
    across = [(x, 450.0, 90.0) for x in (200.0, 300.0, 400.0)]

    assert in_file(*drawn(*four, another), []).all()
    assert not in_file(*drawn(*four, another, *across), []).any()
    # Three in file, and two that lie elsewhere, are no yarn.
    assert not in_file(*drawn(*yarn(last=3), another, (300.0, 450.0, 5.0)), []).any()


def test_a_close_up_of_two_yarns_that_shows_seven_dashes_is_sound():
    picture = drawn_by_hand("third", 57, "glass, sound, tracer")

    assert measure_voids(picture.grey, px_per_mm=picture.px_per_mm).is_sound


def test_a_void_among_the_dashes_is_no_part_of_the_yarn():
    shapes, area, height = drawn(*yarn(), (300, 450, 70))

    found = in_file(shapes, area, height, [])

    assert found.sum() == 9
    assert not found[shapes.y.argmax()]


def test_specks_of_the_cloth_beside_a_yarn_do_not_hide_its_dashes():
    rng = np.random.default_rng(5)
    shapes, area, height = drawn(*yarn())
    specks = np.zeros((SIDE, SIDE), bool)
    for x, y in rng.integers(10, SIDE - 10, (250, 2)):
        specks[y : y + 7, x : x + 7] = y > 400
    mask = specks.copy()
    mask.ravel()[shapes.at] = True
    both = shapes_of(mask)
    is_dash = both.length > 2 * HALF[0]

    assert specks.sum() > shapes.area.sum()
    found = in_file(both, both.area, np.where(is_dash, 0.5, 0.1), [])
    assert (found == is_dash).all()


def test_of_a_second_yarn_too_few_to_be_in_file_are_told_by_the_first():
    second = [(x, y + 200, turn) for x, y, turn in yarn(first=1, last=4)]

    assert in_file(*drawn(*yarn(last=5), *second), []).all()


@pytest.mark.parametrize("seed", range(5))
def test_voids_that_all_run_one_way_but_lie_anywhere_are_no_yarn(seed):
    assert not in_file(*drawn(*strewn(40, seed)), []).any()


@pytest.mark.parametrize("first", [6, 8])
def test_what_continues_dashes_known_for_cloth_is_of_their_yarn(first):
    known = yarn(last=first)
    x, y, _ = (np.array(place) for place in zip(*known, strict=True))
    cloth = Turned(x, y, np.full(first, 4.0 * HALF[0] * HALF[1]), WEAVE)

    assert in_file(*drawn(*yarn(first=first)), [cloth]).all()


def test_voids_near_what_is_known_for_cloth_are_not_of_it():
    x, y, _ = (np.array(place) for place in zip(*yarn(), strict=True))
    cloth = Turned(x, y, np.full(9, 4.0 * HALF[0] * HALF[1]), WEAVE)

    assert not in_file(*drawn((150, 300, 0), (300, 450, 70), (420, 350, 120)), [cloth]).any()


@pytest.mark.parametrize(("tone", "is_yarn"), [(0.5, True), (0.7, False)])
def test_dashes_cut_off_in_a_corner_are_of_the_yarns_that_are_known(tone, is_yarn):
    known, left = yarn(), [(565, 40, 40), (597, 64, 40)]  # the last is cut by the edge
    void = (300, 450, 0)  # as large as a dash
    light = np.full((SIDE, SIDE), 0.4)
    for dashes, share in ((known, 0.5), (left, tone), ([void], 0.7)):
        shapes, *_ = drawn(*dashes)
        light.ravel()[shapes.at] *= share
    surface = surface_of(light)
    x, y, _ = (np.array(place) for place in zip(*known, strict=True))
    cloth = Turned(x, y, np.full(9, 4.0 * HALF[0] * HALF[1]), WEAVE)

    alone, beside = (
        like_the_cloth(surface, some, [cloth], surface.inspected, threshold=0.2)
        for some, *_ in (drawn(*left), drawn(*left, void))
    )

    assert alone.tolist() == [is_yarn] * 2
    assert not beside.any()  # where voids are as large as dashes, these may be voids as well


def left(known: int) -> list[bool]:
    """Which of three bright objects are of a yarn, of which so many dashes are known for cloth.

    Two are dashes of it, the last is a void as bright as they are and half as long.
    """
    own, cloth = np.zeros((SIDE, SIDE), np.uint8), np.full((SIDE // 2,) * 2, ONE, np.uint16)
    for x, y, _ in yarn()[:known]:
        at = (round(x) // 2, round(y) // 2)
        cv2.rectangle(cloth, (at[0] - 7, at[1] - 2), (at[0] + 7, at[1] + 2), ONE // 3, -1)
    for x, y, half in ((100, 400, 14), (160, 420, 14), (500, 500, 7)):
        cv2.rectangle(own, (x - half, y - 5), (x + half, y + 4), 1, -1)
    shapes = shapes_of(own > 0)
    surface = prepare(100 + 50 * own, np.ones(own.shape, bool), 10.0)
    inverse = np.where(own > 0, ONE // 3, ONE).astype(np.uint16)
    bare = replace(surface, ratio=inverse, expected=cloth)
    light = shapes.means(bare.light_at(shapes.at))
    which = left_of_a_yarn(bare, light, shapes.area, shapes.area > 0)
    return which[np.argsort(shapes.y)].tolist()


def test_what_is_as_bright_and_as_large_as_dashes_of_the_cloth_is_of_their_yarn():
    # Dashes are 29 by 10 pixels, and those of the cloth 15 by 5 at half the size.
    assert left(known=6) == [True, True, False]


@pytest.mark.parametrize("known", [0, 4])
def test_a_cloth_with_too_few_dashes_of_its_own_has_no_yarn(known):
    assert left(known=known) == [False] * 3


def test_small_dashes_are_of_a_yarn_that_is_known_by_what_lies_beyond_the_threshold():
    places = [(x, y) for x in range(40, SIDE, 60) for y in range(40, SIDE, 50)]
    drawn_sharp = np.zeros((SIDE, SIDE), np.float32)
    for x, y in places:
        cv2.rectangle(drawn_sharp, (x - 4, y - 2), (x + 4, y + 2), 1.0, -1)
    surface = surface_of(0.4 * (1 - 0.7 * cv2.GaussianBlur(drawn_sharp, (0, 0), 1.2)))
    known = shapes_of(beyond(surface, 1.0, 0.1))
    some = np.flatnonzero(known.x < SIDE - 100)
    cloth = Turned(known.x[some], known.y[some], known.area[some], WEAVE)
    others = shapes_of((drawn_sharp > 0) & (np.arange(SIDE) > SIDE - 100))

    # Blur has made these half as large again, beyond what was asked.
    assert np.median(known.area) > 1.5 * np.median(others.area)
    assert like_the_cloth(surface, others, [cloth], surface.inspected, threshold=0.1).all()


@pytest.mark.parametrize(("share", "is_piece"), [(0.5, True), (0.7, False)])
def test_a_dash_that_the_edge_leaves_only_a_sliver_of_is_of_the_yarn(share, is_piece):
    shapes, _, height = drawn(*yarn(), (590, 1, 10))
    at_edge = shapes.y < 10
    height = np.where(at_edge, share, height)
    dashes = in_file(shapes, shapes.area, height, [])

    assert (dashes == ~at_edge).all()
    assert (cut_off(WHOLE, shapes, height, dashes) == (at_edge & is_piece)).all()


def test_a_void_of_the_dye_of_a_yarn_is_no_piece_of_it_away_from_the_edge():
    shapes, _, height = drawn(*yarn(), (300, 450, 70))
    dashes = np.hypot(shapes.x - 300, shapes.y - 450) > 5

    assert not cut_off(WHOLE, shapes, height, dashes).any()
