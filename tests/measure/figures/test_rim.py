"""A region that reaches over the rim of the part is said to."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.figures.rim import rim_of
from tests.pictures import Surface, render

# Bright pinholes on a lid, whose chamfer lies in the dark: 720 x 600 px at 12 px/mm, its top
# from 60 to 660 and from 60 to 540.
LID = render(Surface(size_mm=(60, 50), fraction=0.015, contrast=-0.7, seed=8))
TOP = (60, 60, 600, 480)


def on_its_rim(shade: float) -> np.ndarray:
    picture = LID.grey.astype(np.float32)
    is_rim = np.ones(picture.shape, bool)
    x, y, width, height = TOP
    is_rim[y : y + height, x : x + width] = False
    picture[is_rim] *= shade
    return np.clip(cv2.GaussianBlur(picture, (0, 0), 0.7), 0, 255).astype(np.uint8)


def warned(picture: np.ndarray, grown: int) -> list[str]:
    x, y, width, height = TOP
    region = (x - grown, y - grown, width + 2 * grown, height + 2 * grown)
    found = measure_voids(picture, px_per_mm=12, region=region)
    return [said for said in found.warnings if "edge of the region" in said]


@pytest.mark.parametrize(("shade", "word"), [(0.4, "darker"), (1.6, "brighter")])
def test_a_region_over_the_rim_is_warned_of_and_one_within_it_is_not(shade, word):
    picture = on_its_rim(shade)

    assert warned(picture, -10) == []
    (said,) = warned(picture, 14)
    assert word in said and "draw the region inside" in said


def test_voids_count_though_a_dark_rim_stands_out_much_further():
    region = (46, 46, 628, 508)
    lid = measure_voids(LID.grey, px_per_mm=12, region=region)

    found = measure_voids(on_its_rim(0.4), px_per_mm=12, region=region)

    assert found.count == pytest.approx(lid.count, rel=0.2)
    # The rim is 14 px wide about 600 x 480 px: 30 000 of 319 000 px, all within the upper limit.
    assert found.void_fraction_high > lid.void_fraction + 0.07
    assert found.void_fraction_low < lid.void_fraction


def test_the_share_is_that_of_the_band_along_the_edge():
    # The rim takes 9 px on all sides: two or three of the four cells of 4 px that fill the band
    # of 1.5 mm, 18 px.
    inside = np.zeros(LID.grey.shape, bool)
    x, y, width, height = TOP
    inside[y - 9 : y + height + 9, x - 9 : x + width + 9] = True

    rim = rim_of(prepare(on_its_rim(0.4), inside, 12.0))

    assert rim is not None and rim.look == "dark"
    assert 0.5 <= rim.share <= 0.75


def test_the_edge_of_the_picture_and_a_hole_are_no_rim():
    dark = on_its_rim(0.4)
    inside = np.ones(LID.grey.shape, bool)
    assert rim_of(prepare(dark, inside, 12.0)) is None

    # A dark label left out of the middle of a region: what it is beside is no edge of the part.
    label = LID.grey.copy()
    label[200:300, 200:400] = 20
    inside[:40] = inside[210:290, 210:390] = False
    assert rim_of(prepare(label, inside, 12.0)) is None


def test_voids_at_the_edge_are_no_rim():
    # 1.5 % of pinholes anywhere, and a region that cuts through them.
    assert warned(LID.grey, -20) == []
