"""Regions turned into masks."""

import numpy as np
import pytest

from defectlog.measure.lengths.region import (
    RegionError,
    inspected_region,
    region_mask,
    without_cards,
)


def test_a_box_covers_its_pixels():
    mask = region_mask((10, 20, 30, 5), (100, 200))

    assert mask.sum() == 150
    assert mask[20:25, 10:40].all()


def test_a_box_reaching_out_of_the_picture_is_cut():
    assert region_mask((-10, -10, 30, 30), (100, 200)).sum() == 400


def test_a_polygon_covers_its_area():
    # A right triangle with legs of 80 px: 3200 px², and half of the outline's 273 px.
    mask = region_mask([(10, 10), (90, 10), (10, 90)], (100, 100))

    assert mask.sum() == pytest.approx(3200, abs=150)
    assert mask[15, 15]
    assert not mask[89, 89]


def test_a_mask_is_taken_as_it_is_and_copied():
    given = np.zeros((40, 50), bool)
    given[5:9, 5:9] = True

    mask = region_mask(given, (40, 50))
    mask[:] = True

    assert given.sum() == 16


def test_no_region_is_the_whole_picture():
    assert region_mask(None, (7, 9)).all()


@pytest.mark.parametrize(
    "region",
    [
        (10, 10, 0, 5),
        (500, 500, 20, 20),
        [(0, 0), (5, 5)],
        (float("nan"), 0, 5, 5),
        [(900, 900), (950, 900), (950, 950)],
    ],
)
def test_what_is_no_area_of_the_picture_is_refused(region):
    with pytest.raises(RegionError):
        region_mask(region, (100, 100))


def test_a_region_on_the_card_alone_is_told_so():
    card = ((30, 30), (90, 30), (90, 90), (30, 90))

    with pytest.raises(RegionError, match="lies on the scale card"):
        inspected_region((35, 35, 40, 40), (100, 100), [card], [])

    assert inspected_region((0, 0, 60, 100), (100, 100), [card], []).any()


def test_a_card_is_taken_out_with_its_halo():
    mask = without_cards(np.ones((100, 100), bool), [((30, 30), (60, 30), (60, 60), (30, 60))])

    assert not mask[27:64, 27:64].any()
    assert mask[:25].all()
    assert mask[66:].all()
