"""What a measurement looked at and did not count, kept with it and said with its reason."""

import io

import numpy as np
import pytest
from PIL import Image
from sqlalchemy.orm import Session

from defectlog.bench.how_pictures import step_jpeg
from defectlog.bench.rejected import rejected_of, rejected_words
from defectlog.records import Measurement, PhotoScale
from tests.bench.test_how_made import PICTURE, PX_PER_MM, measured, store

__all__ = ["store"]  # a fixture


def test_what_is_smaller_than_asked_for_is_kept_with_its_reason(session: Session, store):
    row = measured(session, store, smallest_mm=1.0)
    session.expire(row)

    turned = rejected_of(row)

    small = [spot for spot in turned.spots if spot.why == "smaller than asked for"]
    assert len(small) >= 5
    for spot in small:
        # As wide as it says, by the scale of 12 px/mm, and below the millimetre asked for.
        assert 2 * spot.r_px / PX_PER_MM < 1.0
        nearest = min(np.hypot(void.x - spot.x, void.y - spot.y) for void in PICTURE.voids)
        assert nearest < 4
    told = rejected_words(row)
    assert f"{turned.count}\xa0spots looked at and not counted." == told["words"]
    assert sum(int(one["count_words"].split("\xa0")[0]) for one in told["reasons"]) == turned.count


def test_the_picture_marks_each_of_them_hollow(session: Session, store):
    row = measured(session, store, smallest_mm=1.0)
    with Image.open(io.BytesIO(step_jpeg(row, store, "turned-away"))) as picture:
        grey = np.asarray(picture.convert("L")).astype(int)

    spots = [s for s in rejected_of(row).spots if s.why == "smaller than asked for"]
    inside = [s for s in spots if 20 < s.x < 700 and 20 < s.y < 520]
    assert inside
    for spot in inside:
        x, y = round(spot.x), round(spot.y)
        # White at its upper corner, and not filled: the spot itself is darker.
        assert grey[y - 12 : y - 6, x - 1 : x + 2].max() > 200
        assert grey[y, x] < 200


def test_sizes_are_in_mm_with_a_scale_and_in_pixels_without():
    spot = {"x": 10.0, "y": 20.0, "d_px": 6.0, "why": "soft"}
    with_scale = Measurement(
        result={"rejected": [spot]},
        scale=PhotoScale(source="given", px_per_mm=12.0, card_outlines=[], warnings=[]),
    )

    assert rejected_of(with_scale).spots[0].words == "0.5\xa0mm across"
    without = Measurement(result={"rejected": [spot]})
    assert rejected_of(without).spots[0].words == "6\xa0px across"


@pytest.mark.parametrize("scale", [None, 12.0])
def test_no_photo_tells_the_size_of_less_than_a_pixel(scale):
    specks = [{"x": 10.0, "y": 20.0, "d_px": d_px, "why": "too small"} for d_px in (0.0, 0.99)]
    row = Measurement(
        result={"rejected": specks},
        scale=scale and PhotoScale(source="given", px_per_mm=scale, card_outlines=[], warnings=[]),
    )

    assert [spot.words for spot in rejected_of(row).spots] == ["under 1\xa0px across"] * 2


def test_a_measurement_from_before_says_that_it_was_not_kept():
    earlier = Measurement(result={"count": 3})

    assert rejected_of(earlier) is None
    assert "Measure again" in rejected_words(earlier)["words"]
    assert "Nothing else" in rejected_words(Measurement(result={"rejected": []}))["words"]
