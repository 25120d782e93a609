"""Photos of one surface laid over each other, against the projections they were made with."""

import cv2
import numpy as np
import pytest

from defectlog.measure.lengths.align import Alignment, View, align
from defectlog.measure.lengths.scale import NO_SCALE
from tests.pictures import Surface, render
from tests.two_views import PX_PER_MM, SIZE, photo, projection, scale, surface


def missed_px(found: Alignment, before: np.ndarray, after: np.ndarray) -> float:
    """How far the placement is off at most, over the middle of the picture."""
    places = [(x, y) for x in (300, 500, 700) for y in (250, 400, 550)]
    truth = cv2.perspectiveTransform(np.array([places], np.float64), after @ np.linalg.inv(before))[
        0
    ]
    return float(np.hypot(*(np.array(found.carry(places)) - truth).T).max())


@pytest.mark.parametrize("with_scale", [True, False])
@pytest.mark.parametrize(
    ("turn_deg", "shift_px", "tilt"), [(0, (0, 0), 0), (6, (40, -25), 1e-4), (35, (-60, 30), 5e-5)]
)
def test_a_surface_seen_anew_is_placed_within_two_pixels(turn_deg, shift_px, tilt, with_scale):
    grey, one, other = surface(3), projection(0, (0, 0)), projection(turn_deg, shift_px, tilt)
    scales = (scale(one), scale(other)) if with_scale else (NO_SCALE, NO_SCALE)

    found = align(
        View(photo(grey, one, seed=1), 1.0, scales[0]),
        View(photo(grey, other, light=0.6, seed=2), 1.0, scales[1]),
    )

    assert found is not None
    assert missed_px(found, one, other) < 2
    assert found.rms_px < 3


def test_a_card_that_was_moved_does_not_draw_the_surface_after_it():
    grey, seen = surface(4), projection(0, (0, 0))
    card = render(Surface(size_mm=(40, 25), px_per_mm=PX_PER_MM, weave=0.6, seed=9)).grey
    rows, columns = card.shape
    places = [(150, 120), (520, 430)]
    views = []
    for seed, (x, y) in enumerate(places):
        taken = photo(grey, seen, seed=seed)
        taken[y : y + rows, x : x + columns] = card
        outline = ((x, y), (x + columns, y), (x + columns, y + rows), (x, y + rows))
        views.append(View(taken, 1.0, scale(seen, (outline,))))

    found = align(*views)

    assert found is not None
    assert missed_px(found, seen, seen) < 2


def test_a_repair_in_the_middle_does_not_matter():
    grey, one, other = surface(5), projection(0, (0, 0)), projection(-4, (20, 10))
    repaired = grey.copy()
    cv2.circle(repaired, (585, 450), 180, 130, -1)

    found = align(
        View(photo(grey, one), 1.0, scale(one)), View(photo(repaired, other), 1.0, scale(other))
    )

    assert found is not None
    assert missed_px(found, one, other) < 3


@pytest.mark.parametrize("seed", range(3))
def test_another_surface_is_not_laid_over_this_one(seed):
    here, there = projection(0, (0, 0)), projection(5, (30, 10))
    before = View(photo(surface(10 + seed), here), 1.0, scale(here))
    after = View(photo(surface(20 + seed, weave_deg=30), there), 1.0, scale(there))
    assert align(before, after) is None


def test_nothing_to_hold_on_to_is_said_by_none():
    blank = np.full(SIZE[::-1], 128, np.uint8)
    assert align(View(blank, 1.0, NO_SCALE), View(blank, 1.0, NO_SCALE)) is None


def test_copies_of_other_sizes_are_placed_in_pixels_of_their_photos():
    grey, one, other = surface(3), projection(0, (0, 0)), projection(3, (10, 5))
    half = cv2.resize(photo(grey, one), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)

    found = align(View(half, 0.5, scale(one)), View(photo(grey, other), 1.0, scale(other)))

    assert found is not None
    assert missed_px(found, one, other) < 4


def test_the_same_photos_are_placed_the_same_way():
    grey, one, other = surface(3), projection(0, (0, 0)), projection(3, (10, 5))
    views = [View(photo(grey, seen), 1.0, scale(seen)) for seen in (one, other)]
    assert align(*views) == align(*views)
