"""Cards found on pictures whose scale is true by construction."""

import cv2
import numpy as np
import pytest

from defectlog.measure import find_card, find_markers, measure_voids
from defectlog.measure.lengths.card import CARD_LAYOUTS, DICTIONARY
from tests.measure.views import drawn_card, seen, seen_on_a_cylinder
from tests.pictures import Surface, render

A4 = drawn_card(CARD_LAYOUTS["a4"])
ID1 = drawn_card(CARD_LAYOUTS["id1"])


@pytest.mark.parametrize(("tilt", "axis"), [(0, 0), (5, 30), (10, 90), (15, 0), (20, 60)])
@pytest.mark.parametrize("blur", [0.8, 2.0])
def test_the_card_gives_the_scale_within_a_third_of_a_per_cent(tilt, axis, blur):
    picture, true, _ = seen(A4, tilt_deg=tilt, axis_deg=axis, blur_px=blur)

    scale = find_card(picture)

    assert scale.px_per_mm == pytest.approx(true, rel=0.003)
    assert abs(scale.px_per_mm / true - 1) * 100 <= scale.uncertainty_pct
    assert scale.source == "card"


@pytest.mark.parametrize(("tilt", "axis"), [(0, 0), (12, 45), (20, 60)])
def test_the_bank_card_size_gives_it_too(tilt, axis):
    picture, true, _ = seen(ID1, tilt_deg=tilt, axis_deg=axis)

    assert find_card(picture).px_per_mm == pytest.approx(true, rel=0.003)


@pytest.mark.parametrize(("tilt", "axis"), [(0, 0), (10, 20), (20, 60)])
def test_bare_markers_of_known_side_give_it_without_knowing_their_places(tilt, axis):
    picture, true, _ = seen(A4, tilt_deg=tilt, axis_deg=axis)

    assert find_markers(picture, 20.0).px_per_mm == pytest.approx(true, rel=0.003)


def test_a_single_marker_is_enough_and_says_it_is_less_sure():
    whole, true, to_px = seen(A4)
    corners = np.array([(0, 0), (30, 0), (30, 31), (0, 31)], np.float64)
    flat = np.column_stack([corners, np.ones(4)]) @ to_px.T
    kept = np.zeros(whole.shape, np.uint8)
    cv2.fillPoly(kept, [np.round(flat[:, :2] / flat[:, 2:]).astype(np.int32)], 1)
    single = np.where(kept, whole, np.uint8(90))

    scale = find_markers(single, 20.0)

    assert abs(scale.px_per_mm / true - 1) * 100 <= scale.uncertainty_pct
    assert scale.uncertainty_pct > find_markers(whole, 20.0).uncertainty_pct


def test_gamma_is_undone_before_corners_are_set():
    # Stored values put a marker's sides about half a pixel inwards; at 110 px a side that
    # is 0.9 %. Half as many pixels still have to come within 0.3 %.
    picture, true, _ = seen(A4, px_per_mm=5.5, blur_px=2.0)

    assert find_markers(picture, 20.0).px_per_mm == pytest.approx(true, rel=0.003)


@pytest.mark.parametrize("tilt", [10.0, 20.0, 30.0])
def test_tilt_is_told(tilt):
    picture, _, _ = seen(A4, tilt_deg=tilt, axis_deg=15)

    assert find_card(picture).tilt_deg == pytest.approx(tilt, abs=1.0)


def test_too_much_tilt_is_warned_of():
    scale = find_card(seen(A4, tilt_deg=28)[0])

    assert any("squarely" in warning for warning in scale.warnings)


def test_a_small_marker_is_warned_of():
    scale = find_card(seen(A4, px_per_mm=2.4)[0])

    assert any("go closer" in warning for warning in scale.warnings)


def test_a_bent_card_is_warned_of():
    picture, _, _ = seen(A4)
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]].astype(np.float32)
    # The sheet bulges in the middle: pixels move by up to 9 px along the row.
    bulge = 9 * np.cos((y - 600) / 300) * np.sin((x - 700) / 160)
    bent = cv2.remap(picture, x + bulge, y, cv2.INTER_LINEAR)

    assert any("flat" in warning for warning in find_card(bent).warnings)


@pytest.mark.parametrize("radius_mm", [150.0, 400.0, 1000.0])
def test_a_card_on_a_curved_part_is_warned_of_and_its_doubt_holds_the_error(radius_mm):
    # Straight under the camera the card is as far away as if it were flat: 9.7 px/mm.
    scale = find_card(seen_on_a_cylinder(A4, radius_mm, px_per_mm=9.7))

    assert any("curved" in warning for warning in scale.warnings)
    assert 100 * abs(scale.px_per_mm / 9.7 - 1) < scale.uncertainty_pct < 10


def test_a_card_hidden_in_part_still_gives_the_scale_and_says_so():
    picture, true, _ = seen(A4)
    picture[:, 900:] = 80  # the two markers on the right are gone

    scale = find_card(picture)

    assert scale.px_per_mm == pytest.approx(true, rel=0.01)
    assert any("2 of the card's 4" in warning for warning in scale.warnings)


def greased(picture: np.ndarray) -> np.ndarray:
    """Fourteen smears that blur what is under them and take contrast away."""
    chance = np.random.default_rng(3)
    smears = np.zeros(picture.shape, np.float32)
    for _ in range(14):
        middle = (int(chance.integers(picture.shape[1])), int(chance.integers(picture.shape[0])))
        cv2.circle(smears, middle, int(chance.integers(25, 70)), 1.0, -1)
    smears = cv2.GaussianBlur(smears, (0, 0), 5)
    under = 0.6 * cv2.GaussianBlur(picture, (0, 0), 6) + 0.4 * 120
    return np.round(picture * (1 - smears) + smears * under).astype(np.uint8)


def shaded(picture: np.ndarray) -> np.ndarray:
    """A shadow with a hard edge across the card leaves a third of the light."""
    y, x = np.indices(picture.shape) / picture.shape[1]
    return np.round(picture * np.where(x + 0.4 * y > 0.75, 0.35 ** (1 / 2.2), 1)).astype(np.uint8)


@pytest.mark.parametrize("marred", [greased, shaded])
@pytest.mark.parametrize(("tilt", "axis"), [(10, 45), (20, 90), (30, 0)])
def test_grease_and_shade_leave_the_scale_within_half_a_per_cent(marred, tilt, axis):
    picture, true, _ = seen(A4, tilt_deg=tilt, axis_deg=axis)

    scale = find_card(marred(picture))

    assert scale.px_per_mm == pytest.approx(true, rel=0.005)
    assert abs(scale.px_per_mm / true - 1) < scale.uncertainty_pct / 100


def test_a_marker_too_far_and_too_steep_to_tell_a_scale_is_taken_for_none():
    drawn = np.full((3200, 4800), 190, np.uint8)
    drawn[1600:1744, 2000:2144] = cv2.aruco.generateImageMarker(DICTIONARY, 3, 144)
    steep = np.array([[1, 0, 0], [0, 0.45, 300], [0, -0.00012, 1.0]])
    aslant = cv2.warpPerspective(drawn, steep, (4800, 3200), borderValue=190)
    # 18 px wide and seen at 55 degrees.
    far = cv2.resize(aslant, (600, 400), interpolation=cv2.INTER_AREA)

    assert find_markers(cv2.GaussianBlur(far, (0, 0), 0.7), 20.0) is None


def test_no_card_no_scale():
    plain = np.full((300, 400), 120, np.uint8)

    assert find_card(plain) is None
    assert find_markers(plain, 20.0) is None


def test_colour_and_a_card_upside_down_make_no_difference():
    picture, true, _ = seen(A4)
    colour = cv2.cvtColor(cv2.rotate(picture, cv2.ROTATE_180), cv2.COLOR_GRAY2RGB)

    assert find_card(colour).px_per_mm == pytest.approx(true, rel=0.003)


def test_lengths_far_from_the_card_hold_on_a_tilted_surface():
    picture, _, to_px = seen(A4, tilt_deg=15, axis_deg=40, at_mm=(-75, -55))
    # 40 mm beyond the card's right edge, on the same plane.
    ends = np.array([(130.0, 30.0, 1.0), (130.0, 70.0, 1.0)]) @ to_px.T
    (x0, y0), (x1, y1) = ends[:, :2] / ends[:, 2:]

    scale = find_card(picture)

    assert scale.length_mm([(x0, y0), (x1, y1)]) == pytest.approx(40.0, rel=0.003)
    assert scale.area_mm2(scale.card_outlines[0]) == pytest.approx(100 * 80, rel=0.003)


def test_the_card_is_left_out_of_the_region():
    # A sound surface with a card on it: black and white all over, and no void.
    surface = render(Surface(size_mm=(130, 100), px_per_mm=10, seed=3)).grey
    picture, _, _ = seen(A4, px_per_mm=10, size=surface.shape[:2], at_mm=(-50, -40))
    card = np.abs(picture.astype(int) - 90) > 12  # the ground beside the card is grey 90
    card = cv2.morphologyEx(card.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((21, 21), np.uint8))
    laid = np.where(card, picture, surface)

    scale = find_card(laid)
    measured = measure_voids(laid, scale=scale)

    assert measured.count == 0
    # 130 x 100 mm less the 100 x 80 mm card and its halo of 4 px all round.
    assert measured.inspected_mm2 == pytest.approx(13000 - 100.9 * 80.9, rel=0.01)
    assert measured.scale_source == "card"
