"""Outlines on maps of cloth, drawn so that what they should find is known."""

import cv2
import numpy as np
import pytest

from defectlog.measure.cloth.cloth_maps import Cells, ClothMap
from defectlog.measure.patches.elsewhere import elsewhere
from defectlog.measure.patches.patch_outlines import Candidate, candidates, rises

CELL_MM = 0.6
ROWS, COLUMNS = 120, 160
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
HELD = np.ones((ROWS, COLUMNS), bool)
NOISE = np.random.default_rng(3).normal(0, 0.05, HELD.shape).astype(np.float32)
GRAIN = np.zeros_like(NOISE)  # no finer than the cells


def chart_of(shown: np.ndarray) -> ClothMap:
    """A map of what is shown, in cells, in the grain of cloth."""
    own = (shown + NOISE).astype(np.float32)
    near, wide = (cv2.GaussianBlur(own, (0, 0), mm / CELL_MM) for mm in (1.5, 2.0))
    return ClothMap(wide, near, own, spread=0.02, tows_step=0.0)


def disc(x: float, y: float, radius: float) -> np.ndarray:
    return ((X - x) ** 2 + (Y - y) ** 2 < radius**2).astype(np.float32)


def first(chart: ClothMap, held: np.ndarray = HELD, inspected: np.ndarray = HELD) -> Candidate:
    return candidates(chart, 1, Cells(held, inspected, CELL_MM, GRAIN, 1), least=0.1)[0]


def test_a_sharp_patch_is_outlined_with_its_step_and_height():
    found = first(chart_of(0.2 * disc(80, 60, 15)))

    # A disc of 15 cells, 9 mm: π 15² cells, and no more than a cell of its outline off.
    assert np.count_nonzero(found.cells) == pytest.approx(np.pi * 15**2, rel=2 / 15)
    assert found.step == pytest.approx(0.2, abs=0.02)
    assert found.height == pytest.approx(0.2, abs=0.02)
    assert found.all_round > 0.7
    assert found.thick_mm == pytest.approx(9, abs=0.6)
    assert found.is_compact
    assert found.is_in_the_open


def test_a_patch_beside_a_gleam_as_pale_as_half_of_it_has_an_outline_of_its_own():
    gleam = 0.12 * np.exp(-((X - 110) ** 2 + (Y - 60) ** 2) / (2 * 14.0**2))
    true = disc(78, 60, 12) > 0

    found = first(chart_of(np.maximum(0.2 * true, gleam)))

    mask = np.zeros(HELD.shape, bool)
    mask[found.where] = found.cells
    assert np.count_nonzero(mask & true) / np.count_nonzero(mask | true) > 0.75


def test_a_step_that_is_nowhere_else_is_told_from_one_that_is_all_over():
    lone = chart_of(0.15 * disc(40, 60, 12))
    many = chart_of(0.15 * sum(disc(x, y, 12) for x in (25, 80, 135) for y in (30, 90)))

    assert elsewhere(first(lone), lone, 1, HELD).highest > 3
    # The same outline laid on any of the other five shows the same step there.
    assert elsewhere(first(many), many, 1, HELD).highest == pytest.approx(1.0, abs=0.15)


def test_a_crescent_round_hidden_surface_is_not_in_the_open():
    held = disc(80, 60, 15) == 0
    flank = 0.3 * disc(80, 66, 21)

    found = first(chart_of(flank), held, held)

    assert not found.is_in_the_open


def test_voids_in_a_patch_do_not_hide_it():
    # Splinters of a dry spot, found as voids by themselves: a third of it and of its rim.
    pits = np.random.default_rng(4).random(HELD.shape) < disc(80, 60, 18) / 3

    found = first(chart_of(0.3 * disc(80, 60, 15)), ~pits)

    assert found.hidden == 0
    assert first(chart_of(0.3 * disc(80, 60, 15)), ~pits, ~pits).hidden > 0.2


def test_even_cloth_has_no_step_that_stands_out():
    flat, cells = chart_of(np.zeros(HELD.shape)), Cells(HELD, HELD, CELL_MM, GRAIN, 1)

    assert all(abs(found.step) < 0.06 for found in candidates(flat, 1, cells, least=0.0))
    assert candidates(flat, 1, cells, least=0.1) == []


def test_a_patch_as_small_as_is_asked_for_rises_far_enough_to_be_outlined():
    # The middle of a disc of radius r, averaged over σ, rises by 1 - exp(-r² / 2σ²) of its step
    # (the Gaussian's own integral): 0.86 of it for 3 mm and 1.5 mm.
    chart, cells = chart_of(0.2 * disc(80, 60, 3 / CELL_MM)), Cells(HELD, HELD, CELL_MM, GRAIN, 1)

    assert chart.near[60, 80] == pytest.approx(0.2 * (1 - np.exp(-2)), abs=0.02)
    assert rises(chart, 1, cells, 0.2)
    assert not rises(chart, 1, cells, 0.4)
    assert not rises(chart, -1, cells, 0.2)
    assert len(candidates(chart, 1, cells, least=0.2)) == 1
    assert candidates(chart, 1, cells, least=0.4) == []


# Tows of 2.4 mm whose light floats and dark ones differ by as much as the patch and the cloth.
def test_an_outline_does_not_follow_light_tows_out_nor_dark_ones_in():
    twill = np.where((X // 4 + Y // 4) % 4 < 2, 0.1, -0.1).astype(np.float32)

    off = []
    for x in (76, 78, 80, 82):
        for radius in (9, 11, 13, 15):
            found = first(chart_of(0.2 * disc(x, 60, radius) + twill))
            more = np.count_nonzero(found.above > 0) - np.pi * radius**2
            off.append(more / (2 * np.pi * radius))

    # Less than half a cell, 0.25 mm, all round.
    assert np.abs(off).max() < 0.4
