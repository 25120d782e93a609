"""Measuring as asked for: scale, region, look, smallest void; what makes no sense is refused."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.cloth.surface import NothingInspectedError
from defectlog.measure.lengths.region import RegionError
from defectlog.measure.lengths.scale import BadScaleError, Scale
from tests.measure.easy import EASY, measured
from tests.pictures import Surface, render


def test_without_a_scale_sizes_are_in_pixels_only():
    found = measure_voids(EASY.grey)

    assert (found.px_per_mm, found.inspected_mm2, found.largest_mm) == (None, None, None)
    assert found.diameters_mm is None
    assert found.voids[0].d_mm is None
    assert found.scale_source == "none"
    assert found.void_fraction == pytest.approx(EASY.fraction, abs=0.001)
    assert any("No scale" in warning for warning in found.warnings)


@pytest.mark.parametrize("kind", ["box", "polygon", "mask"])
def test_what_lies_outside_the_region_is_not_counted(kind):
    inside = np.zeros(EASY.grey.shape, bool)
    inside[60:400, 100:500] = True
    box = (100, 60, 400, 340)
    region = {
        "box": box,
        "polygon": [(100, 60), (499, 60), (499, 399), (100, 399)],
        "mask": inside,
    }[kind]
    spoilt = np.where(inside, EASY.grey, np.uint8(20))

    found = measure_voids(spoilt, px_per_mm=12, region=region)

    assert found.inspected_px == pytest.approx(400 * 340, rel=0.002)
    assert found.void_fraction == pytest.approx(float(EASY.cover[inside].mean()), abs=0.0015)
    assert all(99 <= void.x <= 500 and 59 <= void.y <= 400 for void in found.voids)


def test_a_small_region_in_a_corner_of_the_photo_is_measured():
    top, left, high, wide = 388, 484, 88, 112  # within the last of its 25 fields

    found = measured(EASY, region=(left, top, wide, high))

    assert found.inspected_px == wide * high
    true = EASY.cover[top : top + high, left : left + wide].mean()
    assert found.void_fraction_low <= true <= found.void_fraction_high
    assert found.spread_low <= found.void_fraction <= found.spread_high
    # 88 pixels of 12 to the mm; no such word of the whole.
    assert any("only about 7.3 mm across" in said for said in found.warnings)
    assert not any("mm across" in said for said in measured(EASY).warnings)


@pytest.mark.parametrize("region", [(0, 980, 3600, 1), (501, 0, 1, 2880), (0, 100, 600, 5)])
def test_a_strip_of_a_large_photo_has_a_figure_or_is_refused_in_words(region):
    large = np.tile(EASY.grey, (6, 6))

    try:
        found = measure_voids(large, px_per_mm=12.0, region=region)
    except NothingInspectedError:
        return

    assert 0 <= found.void_fraction_low <= found.void_fraction_high <= 1


def test_a_look_that_is_asked_for_is_the_only_one_looked_for():
    assert measured(EASY, look="bright").count == 0
    assert measured(EASY, look="dark").void_fraction == measured(EASY).void_fraction


def test_voids_smaller_than_asked_for_are_left_out_and_said_to_be():
    found = measured(EASY, smallest_mm=0.6)

    assert min(found.diameters_mm) >= 0.6
    assert found.count < measured(EASY).count
    assert any("smaller than asked" in warning for warning in found.warnings)
    assert "voids from 0.6\N{NO-BREAK SPACE}mm, " in found.in_words()
    # There are voids, only none so large.
    none = measured(EASY, smallest_mm=50)
    assert none.count == 0
    assert none.in_words().startswith("No voids from 50\N{NO-BREAK SPACE}mm found; ")


def aslant(width: int, height: int) -> tuple[np.ndarray, Scale]:
    """What 20° about the upright do to a picture of 12 px/mm, and the scale to undo it by."""
    turn, focal = np.radians(20), 0.75 * width
    middle = np.array([[1, 0, -(width - 1) / 2], [0, 1, -(height - 1) / 2], [0, 0, 1.0]])
    tilt = np.array([[np.cos(turn), 0, 0], [0, 1, 0], [np.sin(turn) / focal, 0, 1.0]])
    seen_from = np.linalg.inv(middle) @ tilt @ middle
    to_mm = np.diag([1 / 12, 1 / 12, 1]) @ np.linalg.inv(seen_from)
    to_mm /= to_mm[2, 2]
    rows = tuple(tuple(float(value) for value in row) for row in to_mm)
    return seen_from, Scale("card", px_per_mm=12 * np.sqrt(np.cos(turn)), homography=rows)


def test_slits_along_and_across_a_tilt_are_as_long_as_each_other():
    # 48 slits of 4 x 0.8 mm, every other one upright; in tilted pixels they differ by 6 %.
    rng = np.random.default_rng(2)
    light = np.full((720, 960), 120.0, np.float32)
    for k in range(48):
        x, y = (90 + 110 * (k % 8), 85 + 110 * (k // 8)) + rng.integers(-30, 31, 2)  # no weave
        ends = ((x, y - 19), (x, y + 19)) if k % 2 else ((x - 19, y), (x + 19, y))
        cv2.line(light, *ends, 60.0, 9, cv2.LINE_AA)  # round ends add 5 px at either side
    seen_from, scale = aslant(960, 720)
    light = cv2.warpPerspective(light, seen_from, (960, 720), borderMode=cv2.BORDER_REPLICATE)
    light = cv2.GaussianBlur(light, (0, 0), 0.8) + rng.normal(0, 1.5, light.shape)

    found = measure_voids(np.clip(np.round(light), 0, 255).astype(np.uint8), scale=scale)

    assert found.count == 48
    upright = [45 < void.direction_deg % 180 < 135 for void in found.voids]
    lengths = np.array([void.longest_mm for void in found.voids])
    assert sum(upright) == 24
    assert np.median(lengths[upright]) == pytest.approx(4.0, rel=0.025)
    assert np.median(lengths[~np.array(upright)]) == pytest.approx(4.0, rel=0.025)


def test_a_tilted_surface_is_measured_in_its_own_plane():
    # Tilt by 20° about the upright: the picture of the surface is squeezed along the row.
    flat = render(Surface(size_mm=(80, 60), fraction=0.03, diameters_mm=(0.6, 1.5), seed=5))
    height, width = flat.grey.shape
    seen_from, scale = aslant(width, height)
    picture = cv2.warpPerspective(
        flat.grey, seen_from, (width, height), flags=cv2.INTER_AREA, borderValue=0
    )
    corners = [(20, 20), (width - 20, 20), (width - 20, height - 20), (20, height - 20)]
    region = cv2.perspectiveTransform(np.array([corners], float), seen_from)[0]
    region = np.clip(region, 0, (width - 1, height - 1))

    found = measure_voids(picture, scale=scale, region=[tuple(p) for p in region])

    inside = np.zeros((height, width), np.uint8)
    cv2.fillPoly(inside, [np.round(region).astype(np.int32)], 1)
    laid = cv2.warpPerspective(inside, np.linalg.inv(seen_from), (width, height)) > 0
    assert found.inspected_mm2 == pytest.approx(laid.sum() / 144, rel=0.005)
    assert found.void_fraction == pytest.approx(float(flat.cover[laid].mean()), abs=0.0015)
    # Diameters one by one, although those far away are a quarter smaller in the picture.
    inside[[0, -1]] = inside[:, [0, -1]] = 0
    deep = cv2.erode(inside, np.ones((41, 41), np.uint8))  # not cut by the region's edge
    whole = [void for void in found.voids if deep[round(void.y), round(void.x)]]
    places = np.array([[(void.x, void.y) for void in whole]])
    back = cv2.perspectiveTransform(places, np.linalg.inv(seen_from))[0]
    drawn = np.array([(void.x, void.y) for void in flat.voids])
    nearest = np.hypot(*(back[:, None] - drawn[None]).transpose(2, 0, 1)).argmin(axis=1)
    ratio = [
        void.d_mm / (flat.voids[k].diameter / 12) for void, k in zip(whole, nearest, strict=True)
    ]
    assert np.median(ratio) == pytest.approx(1.0, abs=0.02)
    # One pinhole of 5 to 7 px scatters by 7 % in diameter.
    assert np.mean(np.abs(np.array(ratio) - 1) < 0.14) > 0.95


def test_too_small_a_region_says_what_to_do():
    with pytest.raises(NothingInspectedError, match="larger region"):
        measured(EASY, region=(10, 10, 30, 30))


@pytest.mark.parametrize(
    ("asked", "error"),
    [
        ({"px_per_mm": 0.0}, BadScaleError),
        ({"px_per_mm": float("nan")}, BadScaleError),
        ({"region": (0, 0, -5, 5)}, RegionError),
        ({"look": "sideways"}, ValueError),
    ],
)
def test_what_makes_no_sense_is_refused(asked, error):
    with pytest.raises(error):
        measure_voids(EASY.grey, **asked)


def test_a_smallest_size_without_a_scale_is_said_to_have_no_effect():
    found = measure_voids(EASY.grey, smallest_mm=0.6)

    assert found.count == measure_voids(EASY.grey).count
    assert any("Without a scale" in warning for warning in found.warnings)


def test_stored_resolution_is_no_scale():
    # A picture array carries no dots per inch: two sizes of it measure the same in pixels.
    assert measure_voids(EASY.grey).px_per_mm is None
