"""Outlines at half contrast, on discs and edges drawn by hand."""

import cv2
import numpy as np
import pytest

from defectlog.measure.arrays.pixels import listed, pixels_of
from defectlog.measure.outlines import outline
from defectlog.measure.outlines.judging import half_width
from defectlog.measure.outlines.sizing import outlined_objects, sizes_of
from defectlog.measure.outlines.zone import Zone, zone_of


def around_of(within: outline.Outlined, zone: Zone) -> np.ndarray:
    return outline.perimeters(within.mask, within.at, within.label, zone.count)


def rise(ratio: np.ndarray, seeds: np.ndarray, inspected: np.ndarray | None = None):
    whole = np.ones(ratio.shape, bool) if inspected is None else inspected
    zone = zone_of(seeds, ratio.astype(np.float32), whole, sign=1.0)
    return zone, outline.rise_of(zone)


def disc(radius: float, size: int = 101, at: tuple[int, int] = (50, 50)) -> np.ndarray:
    y, x = np.mgrid[:size, :size]
    return ((x - at[1]) ** 2 + (y - at[0]) ** 2 <= radius**2).astype(np.float32)


@pytest.mark.parametrize("seed_level", [0.15, 0.3, 0.45])
def test_the_outline_does_not_hang_on_the_threshold_it_was_found_by(seed_level):
    # x² + y² <= 20² holds 1257 pixels; blur moves the half-contrast line of a disc inwards
    # by σ²/2R, here 0.05 px.
    ratio = 1 - 0.6 * cv2.GaussianBlur(disc(20), (0, 0), 1.5)
    zone, found = rise(ratio, ratio < 1 - seed_level)

    within = outline.outlined(zone, found)

    assert within.mask.sum() == pytest.approx(1257, rel=0.015)
    # The plateau is the mean of the upper part, rim and all: a little low by its making.
    assert 0.56 < found.height[0] <= 0.6
    # From a late seed three pixels of growth leave out some of the blurred foot.
    assert outline.missing_light(zone)[0] == pytest.approx(0.6 * 1257, rel=0.035)


def test_a_void_across_a_bright_and_a_dark_tow_is_outlined_on_both():
    tows = np.where(np.arange(101) < 50, 1.25, 0.75) * np.ones((101, 1))
    ratio = np.where(disc(16) > 0, 0.25, tows)
    zone, found = rise(ratio, ratio < 0.6)

    within = outline.outlined(zone, found)

    assert np.array_equal(within.mask, disc(16) > 0)


def test_what_stands_out_nowhere_has_no_height_and_no_area():
    # Two marks on even surface. About the right one the light is taken to be a tenth less: nothing
    # of it is darker than that.
    marks = disc(4, at=(50, 25)) + disc(4, at=(50, 75))
    ratio = 1 - 0.5 * disc(4, at=(50, 25))
    sound = np.where(np.arange(51) < 25, 1.0, 0.9) * np.ones((51, 1))
    whole = np.ones(marks.shape, bool)

    zone = zone_of(marks > 0, ratio, whole, sign=1.0, sound=sound.astype(np.float32))
    objects = outlined_objects(zone, marks > 0, np.zeros(0, np.int64))

    assert objects.rise.height == pytest.approx([0.5, 0.0])
    area = sizes_of(objects, np.ones(2, bool), dark=True).area
    assert area == pytest.approx([disc(4).sum(), 0.0], rel=0.05)


def test_neighbours_share_the_ground_between_them():
    both = disc(8, at=(50, 40)) + disc(8, at=(50, 61))  # 4 pixels of surface between them
    ratio = 1 - 0.5 * both
    zone, _ = rise(ratio, both > 0)

    assert zone.count == 2
    sizes = np.bincount(zone.label)
    assert sizes[0] == pytest.approx(sizes[1], rel=0.03)
    assert len(np.unique(zone.at)) == len(zone.at)


def test_nothing_grows_out_of_the_inspected_surface():
    inspected = np.ones((101, 101), bool)
    inspected[:, 55:] = False
    ratio = 1 - 0.5 * disc(8)
    zone, _ = rise(ratio, (disc(8) > 0) & inspected, inspected)

    assert inspected.ravel()[zone.at].all()


def test_an_edge_is_as_wide_as_its_blur():
    # A Gaussian edge falls from 65 to 35 % over 0.7706 σ.
    ratio = 1 - 0.5 * cv2.GaussianBlur(disc(35), (0, 0), 2.0)
    zone, found = rise(ratio, ratio < 0.8)
    within = outline.outlined(zone, found)

    edge = outline.edge_width(found, around_of(within, zone))
    assert edge[0] == pytest.approx(0.7706 * 2.0, rel=0.12)
    assert not outline.is_soft(edge, np.array([35.0]))[0]


def test_a_hump_without_a_plateau_is_soft():
    y, x = np.mgrid[-50:51, -50:51]
    ratio = 1 - 0.5 * np.exp(-(x**2 + y**2) / (2 * 12.0**2))
    zone, found = rise(ratio, ratio < 0.8)
    within = outline.outlined(zone, found)

    around = around_of(within, zone)
    half = half_width(found.counted, around)
    assert outline.is_soft(outline.edge_width(found, around), half)[0]


def test_the_widest_place_of_a_star_is_its_core_and_of_a_band_its_half():
    y, x = np.mgrid[:201, :201] - 100
    star = np.hypot(y, x) < 40 * (1 + 0.5 * np.sign(np.sin(30 * np.arctan2(y, x))))
    band = np.zeros((201, 201), bool)
    band[5:13, 20:180] = True
    count, labels = cv2.connectedComponents((star | band).view(np.uint8))
    at = pixels_of(labels > 0)
    label = labels.ravel()[at] - 1
    which = np.array([True, True])

    band_half, core = outline.widest_half(at, label, which, labels.shape)

    assert count == 3
    assert band_half == pytest.approx(4, abs=0.5)
    assert core == pytest.approx(20, abs=3)  # the fingers begin at 20 of their 60 pixels
    # By its area and outline half its width is that of the fingers.
    fingers = half_width(
        np.array([star.sum()]),
        outline.perimeters(star, pixels_of(star), np.zeros(star.sum(), np.int64), 1),
    )
    assert fingers[0] < 0.4 * core


def test_the_perimeter_of_a_disc_is_its_circumference():
    mask = disc(30) > 0
    at = pixels_of(mask)

    around = outline.perimeters(mask, at, np.zeros_like(at), 1)

    assert around[0] == pytest.approx(2 * np.pi * 30, rel=0.03)
    assert outline.length_of(listed(mask).sides)[0] == around[0]


def test_a_glint_in_a_pore_is_part_of_it_and_what_a_ring_encloses_is_not():
    pore = (disc(12, at=(30, 30)) > 0) & ~(disc(3, at=(28, 32)) > 0)
    ring = (disc(14, at=(70, 70)) > 0) & ~(disc(12, at=(70, 70)) > 0)
    mask = pore | ring

    filled = outline.fill_glints(mask, listed(mask))

    # x² + y² <= 3² holds 29 pixels.
    assert len(filled) == 29
    assert np.array_equal(mask, (disc(12, at=(30, 30)) > 0) | ring)


def test_a_glint_of_a_single_pixel_is_filled_as_larger_ones_are():
    whole = disc(12, at=(30, 30)) > 0
    mask = whole.copy()
    mask[30, 30] = mask[25, 34] = mask[33:35, 28] = False

    filled = outline.fill_glints(mask, listed(mask))

    assert np.array_equal(mask, whole)
    assert len(filled) == 4
