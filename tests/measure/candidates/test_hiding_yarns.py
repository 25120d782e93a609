"""Dyed yarns on which voids do not show, and what juts out of their dashes."""

import cv2
import numpy as np
import pytest

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.candidates.joined_dashes import parted
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.shapes import shapes_of
from tests.benchmarks.voids_accuracy import drawn
from tests.measure.candidates.test_pits import cloth
from tests.measure.candidates.test_pockets import COLUMNS, ROWS, X, Y, discs, photo

REPEAT, LONG, HALF_WIDE = 96, 44, 9
OF_VOID = 0.45  # of the light of the cloth


def dashes() -> np.ndarray:
    """Where three yarns show."""
    shows = np.zeros((ROWS, COLUMNS), dtype=bool)
    for x in (180, 420, 660):
        shows |= (np.abs(X - x) < HALF_WIDE) & (np.mod(Y + x, REPEAT) < LONG)
    return shows


def measured(dyed: np.ndarray, of_yarn: float, voids: np.ndarray) -> VoidMeasurement:
    """Voids on yarn have the light of what is darker."""
    light = np.where(dyed, of_yarn, cloth(3))
    return measure_voids(photo(np.where(voids, np.minimum(light, OF_VOID), light)), px_per_mm=10)


@pytest.mark.parametrize("seed", [2, 5])
def test_yarn_as_dark_as_voids_is_not_inspected_and_the_fraction_is_of_the_rest(seed):
    dyed, voids = dashes(), discs(150, 6, seed)

    found = measured(dyed, OF_VOID, voids)

    # The blurred edge of yarn is not inspected either; dashes that the picture cuts are, as sound.
    edge = cv2.dilate((dyed | voids).view(np.uint8), np.ones((7, 7), np.uint8)) > 0
    inner = cv2.erode(dyed.view(np.uint8), np.ones((5, 5), np.uint8)) > 0
    inner[:LONG] = inner[-LONG:] = False
    assert not found.inspected_mask[inner].any()
    assert found.inspected_mask[~edge].all()
    rest = voids[found.inspected_mask].mean()
    assert found.void_fraction == pytest.approx(rest, rel=0.05)
    assert found.void_fraction_low < rest < found.void_fraction_high
    said = [one for one in found.warnings if "dyed yarn about as dark as the voids" in one]
    assert len(said) == 1
    assert not any("glare" in one for one in found.warnings)
    assert any(one.why == judging.DYED for one in found.rejected)


@pytest.mark.parametrize(("half_wide", "is_yarn"), [(1.6, False), (2.1, True)])
def test_gaps_in_file_are_narrower_than_any_yarn(half_wide, is_yarn):
    # Three and five columns, as dark as the voids: 0.4 and 0.5 mm wide by their moments.
    gaps = np.zeros((ROWS, COLUMNS), dtype=bool)
    for x in range(40, COLUMNS, 40):
        gaps |= (np.abs(X - x) < half_wide) & (np.mod(Y + x, 40) < 20)

    found = measured(gaps, OF_VOID, discs(150, 6, 2))

    assert any("dyed yarn" in one for one in found.warnings) == is_yarn


def test_what_juts_out_of_a_yarn_that_hides_voids_counts():
    dyed, free = dashes(), discs(80, 6, 4)
    voids = free & ~(cv2.dilate(dyed.view(np.uint8), np.ones((41, 41), np.uint8)) > 0)
    jutting = np.zeros_like(dyed)
    for k in range(5):
        # In the middle of the side of a dash: half of the disc is beside it.
        y = REPEAT * (k + 1) - 180 % REPEAT + LONG / 2
        jutting |= (X - 180 - HALF_WIDE) ** 2 + (Y - y) ** 2 < 13**2

    found = measured(dyed, OF_VOID, voids | jutting)

    beside = sum(void.area_px for void in found.voids if abs(void.x - 195) < 15)
    # Of each half a pixel or two are lost with the edge of the yarn: 26 px wide, 2 of 13 px deep.
    true = 5 * np.pi / 2 * 13**2
    assert true - 5 * 3 * 26 < beside < true


def test_yarn_lighter_than_voids_is_inspected_and_those_on_it_count():
    voids = discs(150, 6, 2)

    found = measured(dashes(), 0.8, voids)

    assert found.not_inspected_fraction == 0
    assert found.void_fraction == pytest.approx(voids.mean(), rel=0.05)


def test_of_sound_cloth_yarn_is_inspected():
    found = measured(dashes(), OF_VOID, np.zeros((ROWS, COLUMNS), dtype=bool))

    assert found.void_fraction == 0
    assert found.not_inspected_fraction == 0


def test_what_is_left_of_yarns_is_no_void_where_nothing_else_is():
    # Ends of its dashes lie askew, each in another way: they are not where others of them are.
    picture = drawn("third", 8, "glass, sound, tracer")

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    assert found.count == 0
    assert found.not_inspected_fraction == 0


def boxed(*boxes: tuple[int, int, int, int]) -> np.ndarray:
    mask = np.zeros((200, 300), dtype=bool)
    for top, left, high, wide in boxes:
        mask[top : top + high, left : left + wide] = True
    return mask


def test_of_a_dash_that_a_void_has_joined_the_void_juts_out():
    dash, void = boxed((50, 60, 20, 60)), boxed((30, 80, 30, 14))
    shapes = shapes_of(dash | void)
    alone = shapes_of(dash)
    size = (float(alone.length[0]), float(alone.breadth[0]))

    holds, at = parted(shapes, np.array([0]), np.zeros(1), size=size, columns=300)

    assert holds.all()
    # Two rows beside the dash are its blurred edge.
    expected = np.flatnonzero((void & ~boxed((48, 60, 24, 60))).ravel())
    assert np.array_equal(np.sort(at), expected)


def test_where_yarns_cross_nothing_juts_out_and_what_is_smaller_than_a_dash_holds_none():
    size = tuple(
        float(side[0])
        for shapes in [shapes_of(boxed((50, 60, 20, 60)))]
        for side in (shapes.length, shapes.breadth)
    )
    across = shapes_of(boxed((50, 60, 20, 60), (60, 80, 60, 20)))
    small = shapes_of(boxed((50, 60, 14, 60)))

    for shapes, holds in ((across, True), (small, False)):
        held, at = parted(shapes, np.array([0]), np.zeros(1), size=size, columns=300)
        assert held.tolist() == [holds]
        assert not len(at)
