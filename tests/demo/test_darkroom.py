"""The app's own measuring, on photos of which it is known what was drawn."""

from datetime import datetime
from pathlib import Path

import cv2
import numpy as np
import pytest

from defectlog.demo.darkroom import Order, Print, develop, region_of
from defectlog.demo.recipes import RECIPES
from defectlog.demo.shots import Shot, shots_of
from defectlog.demo.story import BUILDS
from defectlog.demo.surfaces import render

# A dense and a sound build of glass and of carbon, the worst of the leak, and the dry spot.
SAMPLE = (1, 21, 24, 30, 32, 16)


def measured_shot(number: int) -> Shot:
    plan = BUILDS[number - 1]
    return next(s for s in shots_of(plan, number, RECIPES[plan.part]) if s.measured)


@pytest.fixture(scope="module")
def prints(tmp_path_factory) -> list[Print]:
    photos: Path = tmp_path_factory.mktemp("photos")
    taken = datetime(2025, 3, 4, 14, 0)
    return [develop(Order(measured_shot(number), taken, photos)) for number in SAMPLE]


def test_what_was_drawn_lies_in_the_interval_measured(prints):
    for number, made in zip(SAMPLE, prints, strict=True):
        measured = made.measured
        # 0.005 points of tolerance: what the partial pixels of a pit's rim are rounded by.
        assert measured.void_fraction_low - 5e-5 <= made.true_fraction, number
        assert made.true_fraction <= measured.void_fraction_high + 5e-5, number


def test_the_mean_error_is_below_a_tenth_of_a_point(prints):
    # 0.15 points is the least asked of the method on pictures of known voids.
    errors = [abs(made.measured.void_fraction - made.true_fraction) for made in prints]

    assert np.mean(errors) < 0.0015


def test_the_card_on_each_photo_is_found(prints):
    assert {made.arrival.scale.source for made in prints} == {"card"}


def test_the_date_of_the_photo_is_read_from_its_file(prints):
    assert {made.arrival.taken_at for made in prints} == {datetime(2025, 3, 4, 14, 0)}


def test_the_region_leaves_out_the_dry_spot_and_the_cut_out():
    _, truth = render(measured_shot(21).spec)
    region = np.asarray(region_of(truth), np.float32)
    (spot,) = [drawn for drawn in truth.defects if drawn.kind == "dry-spot"]
    assert all(cv2.pointPolygonTest(region, corner, False) < 0 for corner in spot.outline_px)

    _, truth = render(measured_shot(16).spec)
    region = np.asarray(region_of(truth), np.float32)
    assert truth.holes_px
    for hole in truth.holes_px:
        assert all(cv2.pointPolygonTest(region, corner, False) < 0 for corner in hole)
