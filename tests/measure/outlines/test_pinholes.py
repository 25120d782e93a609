"""Pinholes sized by the light they take, on discs whose area is known."""

import cv2
import numpy as np
import pytest

from defectlog.measure.outlines import blurred, outline, pinholes
from defectlog.measure.outlines.judging import half_width
from defectlog.measure.outlines.pinholes import blur_of_strong
from defectlog.measure.outlines.sizing import outlined_objects, sizes_of
from defectlog.measure.outlines.zone import Zone, zone_of

FINE = 10


def blurred_discs(radius: float, sigma: float, contrast: float, n: int = 36) -> np.ndarray:
    """A sheet of discs at places off the grid, drawn ten times finer, blurred and shrunk."""
    rng = np.random.default_rng(3)
    pitch = 40
    side = int(np.sqrt(n)) * pitch
    fine = np.zeros((side * FINE, side * FINE), np.float32)
    y, x = np.mgrid[: pitch * FINE, : pitch * FINE]
    for row in range(0, side, pitch):
        for column in range(0, side, pitch):
            cy, cx = rng.uniform(18, 22, 2) * FINE
            disc = (x - cx) ** 2 + (y - cy) ** 2 <= (radius * FINE) ** 2
            fine[row * FINE : (row + pitch) * FINE, column * FINE : (column + pitch) * FINE] = disc
    small = cv2.resize(fine, (side, side), interpolation=cv2.INTER_AREA)
    return 1 - contrast * cv2.GaussianBlur(small, (0, 0), sigma)


def zone_and_rise(ratio: np.ndarray, seed_level: float) -> tuple[Zone, outline.Rise]:
    seeds = ratio < 1 - seed_level
    zone = zone_of(seeds, ratio, np.ones(ratio.shape, bool), sign=1.0)
    return zone, outline.rise_of(zone)


@pytest.mark.parametrize("diameter", [3.0, 4.0, 5.5, 8.0])
@pytest.mark.parametrize("sigma", [0.7, 1.2])
def test_a_pinholes_area_is_right_within_three_per_cent_where_a_count_is_not(diameter, sigma):
    ratio = blurred_discs(diameter / 2, sigma, 0.5)
    zone, rise = zone_and_rise(ratio, 0.1)
    height, missing = rise.height, outline.missing_light(zone)
    true = np.pi * diameter**2 / 4
    # The pixel's own square blurs too, by 1/12 px² each way.
    blur = np.hypot(sigma, np.sqrt(1 / 12))

    by_light = missing / pinholes.disc_of(missing, height, blur)[1]

    assert zone.count == 36
    if diameter > 2.5 * blur:
        assert by_light.mean() == pytest.approx(true, rel=0.03)
    # With the contrast known, and nothing else to guess, blur has no say at all.
    assert (missing / 0.5).mean() == pytest.approx(true, rel=0.03)


@pytest.mark.parametrize("diameter", [6.0, 8.0])
@pytest.mark.parametrize("sigma", [0.7, 1.2])
def test_a_phones_sharpening_hardly_changes_the_size_of_what_is_six_pixels_wide(diameter, sigma):
    value = (0.3 * blurred_discs(diameter / 2, sigma, 0.6)) ** (1 / 2.2)
    # An unsharp mask: what differs from the values round it is made to differ by 0.6 more.
    sharpened = value + 0.6 * (value - cv2.GaussianBlur(value, (0, 0), 1.2))
    zone, rise = zone_and_rise(sharpened**2.2 / 0.3, 0.2)
    mask = outline.outlined(zone, rise).mask

    objects = outlined_objects(
        zone_of(mask, sharpened**2.2 / 0.3, np.ones(mask.shape, bool), sign=1.0),
        mask,
        np.zeros(0, np.int64),
    )
    sizes = sizes_of(objects, np.ones(len(objects.counted), bool), dark=True)

    assert len(sizes.area) == 36
    assert sizes.area.mean() == pytest.approx(np.pi * diameter**2 / 4, rel=0.05)


def edges(radius: float, sigma: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What is measured of discs of half the light: edges, half their width, and contrast."""
    zone, rise = zone_and_rise(blurred_discs(radius, sigma, 0.5), 0.2)
    within = outline.outlined(zone, rise)
    around = outline.perimeters(within.mask, within.at, within.label, zone.count)
    return outline.edge_width(rise, around), half_width(rise.counted, around), rise.height


def test_the_blur_of_a_picture_is_read_from_its_larger_voids():
    for sigma in (0.8, 1.5, 2.2):
        found = blur_of_strong(*edges(9.0, sigma))

        assert found == pytest.approx(np.hypot(sigma, np.sqrt(1 / 12)), rel=0.08)


@pytest.mark.parametrize(("radius", "sigma"), [(2.2, 0.7), (2.8, 0.7), (3.2, 1.2)])
def test_where_all_that_is_large_is_cloth_pinholes_say_how_blurred_the_picture_is(radius, sigma):
    edge, half, height = edges(radius, sigma)
    cloth = [np.full(20, value) for value in (2.5, 7.0, 0.12)]

    found = blur_of_strong(
        *(np.append(*pair) for pair in zip((edge, half, height), cloth, strict=True))
    )

    assert found == pytest.approx(np.hypot(sigma, np.sqrt(1 / 12)), rel=0.18)


def test_cloth_does_not_say_how_strong_pinholes_are():
    # Discs of a contrast of 0.6, one and a half deviations of the blur in radius and three.
    small, middling = (np.full(30, radius) for radius in (1.5, 3.0))
    radius = np.append(small, middling)
    shown = 0.6 * np.interp(radius, blurred.DISC_RADIUS, blurred.DISC_SHOWN)
    missing = 0.6 * np.pi * radius**2
    pits = np.full(40, 12.0)
    plateau = np.append(shown, np.full(40, 0.15))
    missing = np.append(missing, 0.15 * np.pi * pits**2)
    across = 2 * np.append(radius, pits)

    contrast = pinholes.resolved_contrast(missing, plateau, across, across, 1.0)

    assert contrast[:60] == pytest.approx(0.6, rel=0.03)


def test_too_few_large_voids_say_nothing_about_the_blur():
    assert blur_of_strong(np.full(4, 0.8), np.full(4, 8.0), np.full(4, 0.5)) is None


def test_a_large_disc_shows_all_of_its_contrast():
    # 40 blurs across, the plateau is 1 but for the rim.
    radius, contrast = pinholes.disc_of(np.array([0.5 * np.pi * 400]), np.array([0.5]), 0.5)

    assert radius[0] == pytest.approx(20.0, rel=0.01)
    assert contrast[0] == pytest.approx(0.5, rel=0.02)


def test_a_point_shows_next_to_nothing_of_it():
    # A disc much smaller than the blur peaks at 1 - exp(-R²/2σ²): for R = σ/2, 0.1175. The
    # plateau, a mean over the upper part of a Gaussian, is (1 - 0.7 q) / -ln(0.7 q) of that
    # with q the plateau of the round before, 0.5 / ln 2 = 0.7213: 0.505 / 0.683 … = 0.7247.
    sigma, radius = 2.0, 1.0
    shown = 0.7247 * (1 - np.exp(-0.125))
    found, contrast = pinholes.disc_of(
        np.array([0.6 * np.pi * radius**2]), np.array([0.6 * shown]), sigma
    )

    assert found[0] == pytest.approx(radius, rel=0.02)
    assert contrast[0] == pytest.approx(0.6, rel=0.04)
