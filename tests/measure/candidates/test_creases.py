"""Creases drawn with a lit flank and one in shade, beside lines that have but one side."""

from dataclasses import replace
from functools import partial

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import ONE
from defectlog.measure.candidates.creases import Creases, flanks_of, lies_across
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.search import either_side
from defectlog.measure.search.finding import find_voids

ROWS, COLUMNS, PX_PER_MM = 600, 900, 10.0
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
# Across a line that bends a little, in mm, and how far it has faded towards its ends.
ACROSS = (Y - 300 - 25 * np.sin(X / 120)) / PX_PER_MM
ENDS = 1 / (1 + np.exp((np.abs(X - 450) / PX_PER_MM - 20) / 2))


def photo(gain: np.ndarray) -> np.ndarray:
    light = 0.3 * gain * (1 + 0.03 * np.sin(X / 3) * np.sin(Y / 3))
    light += np.random.default_rng(4).normal(0, 0.003, light.shape)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.8)
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def creased(glint: float = 0.0) -> np.ndarray:
    """Flanks a millimetre from the middle, a quarter off the light; a glint along the crest."""
    lit = 0.4 * ACROSS * np.exp(-(ACROSS**2) / 2)
    return 1 + ENDS * (lit + glint * np.exp(-(((ACROSS - 0.5) / 0.2) ** 2)))


@pytest.mark.parametrize("glint", [0.0, 0.25])
@pytest.mark.parametrize("look", ["auto", "dark", "bright"])
def test_a_crease_on_a_sound_surface_is_none_of_its_voids(glint, look):
    found = measure_voids(photo(creased(glint)), px_per_mm=PX_PER_MM, look=look)

    assert found.count == 0
    assert 0 < found.void_fraction_high < 0.003


@pytest.mark.parametrize("half_mm", [6, 7, 8])
@pytest.mark.parametrize("wide", [0.6, 0.8, 1.0])
def test_a_crease_some_times_longer_than_wide_is_no_void_among_bright_ones(half_mm, wide):
    at = ACROSS / wide
    ends = 1 / (1 + np.exp((np.abs(X - 450) / PX_PER_MM - half_mm) / 0.6))
    places = [(x, y) for x in range(60, COLUMNS, 112) for y in (60, 140, 460, 540)]
    true = np.logical_or.reduce([(X - x) ** 2 + (Y - y) ** 2 < 5**2 for x, y in places])
    gain = (1 + 0.6 * ends * at * np.exp(-(at**2) / 2)) * np.where(true, 1.5, 1.0)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.count == len(places)
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.05)


def crease(x: float, y: float, turn_deg: float, half_mm: float, wide: float, steep: float):
    """Light of a straight crease through a place, with flanks ``wide`` mm from its middle."""
    turn = np.radians(turn_deg)
    along = ((X - x) * np.cos(turn) + (Y - y) * np.sin(turn)) / PX_PER_MM
    at = ((Y - y) * np.cos(turn) - (X - x) * np.sin(turn)) / PX_PER_MM / wide
    ends = 1 / (1 + np.exp((np.abs(along) - half_mm) / 3))
    return 1 + steep * ends * at * np.exp(-(at**2) / 2), at, ends


def woven(deep: float) -> np.ndarray:
    """Cloth whose tows, 2 mm wide, are darker by so much where they meet."""
    return 1 - deep * np.maximum(*(np.exp(-(((np.mod(z, 20) - 10) / 1.5) ** 2)) for z in (X, Y)))


@pytest.mark.parametrize(
    ("wide", "steep", "glint", "deep"),
    [(2.2, 0.48, 0.0, 0.1), (2.2, 0.48, 0.2, 0.2), (1.6, 0.48, 0.3, 0.2), (3.0, 0.32, 0.3, 0.2)],
)
def test_of_creases_that_meet_nothing_counts_that_no_other_void_speaks_for(
    wide, steep, glint, deep
):
    """They cut each other's flanks into pieces that are too short for a crease."""
    broad, _, _ = crease(500, 260, 140, 22, wide, steep)
    narrow, at, ends = crease(350, 420, 60, 12, 1.0, 0.4)
    crest = 1 + glint * ends * np.exp(-(((at - 0.5) / 0.3) ** 2))

    assert (
        measure_voids(photo(broad * narrow * crest * woven(deep)), px_per_mm=PX_PER_MM).count == 0
    )


@pytest.mark.parametrize(
    ("shade", "lit", "narrow", "deep"),
    [(0.15, 0.12, 0.5, 0.12), (0.15, 0.12, 0.5, 0.2), (0.25, 0.08, 1.0, 0.12)],
)
def test_creases_whose_lit_flank_is_narrow_or_weak_are_none_either(shade, lit, narrow, deep):
    gain = np.ones_like(X)
    for across in (X - 300 - 12 * np.sin(Y / 200), Y - 300 - 12 * np.sin(X / 200)):
        at = across / PX_PER_MM
        gain -= shade * np.exp(-1.5 * (at + 1) ** 2)
        gain += lit * np.exp(-1.5 * ((at - 1) / narrow) ** 2)
    pits = np.exp(-sum(((np.mod(z, 20) - 10) / 1.5) ** 2 for z in (X, Y)))

    assert measure_voids(photo(gain * (1 - deep * pits)), px_per_mm=PX_PER_MM).count == 0


@pytest.mark.parametrize("seam", [0.0, 0.06, 0.1])
def test_a_dark_line_is_a_void_though_light_gathers_along_one_side_of_it(seam):
    on_it = np.abs(ACROSS) < 0.75
    gain = np.where(on_it, 1 - 0.3 * (ENDS > 0.5), 1.0)
    gain = np.where((ACROSS > 0.75) & (ACROSS < 1.5), 1 + seam * (ENDS > 0.5), gain)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.void_fraction == pytest.approx(float((gain < 1).mean()), rel=0.1)


def test_single_voids_on_a_crease_count_where_the_rest_is_sound():
    gain, true = creased(), np.zeros((ROWS, COLUMNS), bool)
    for x in (380, 450):
        true |= (X - x) ** 2 + (Y - np.argmin(np.abs(ACROSS[:, x] + 1))) ** 2 < 6**2

    found = measure_voids(photo(np.where(true, 0.4 * gain, gain)), px_per_mm=PX_PER_MM)

    assert found.count == 2
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)


def test_what_lies_over_both_flanks_lies_across_the_crease():
    surface = prepare(photo(creased()), np.ones((ROWS, COLUMNS), bool), PX_PER_MM)
    flanks = partial(flanks_of, surface)
    both, lit = np.abs(ACROSS) < 1.5, (ACROSS > 0.5) & (ACROSS < 1.5)
    window = np.s_[200:400, 300:600]

    assert lies_across(flanks, both[window], 200, 300)
    assert not lies_across(flanks, lit[window], 200, 300)
    assert not lies_across(flanks, both[window], 400, 300)


def test_flanks_are_told_anew_of_other_light_alone():
    surface = prepare(photo(creased()), np.ones((ROWS, COLUMNS), bool), PX_PER_MM)
    told = flanks_of(surface, 1.0)

    upper = surface.within(Y < 300)
    even = replace(surface, smooth=np.full_like(surface.smooth, ONE))

    assert told is not None
    assert flanks_of(surface, 1.0) is told
    assert flanks_of(upper, 1.0) is told
    assert flanks_of(even, 1.0) is None


def test_two_creases_that_cross_are_no_voids_either():
    other = (X - 450 - (Y - 300)) / 2**0.5 / PX_PER_MM
    ends = 1 / (1 + np.exp((np.abs(Y - 300) / PX_PER_MM - 15) / 2))
    gain = creased() + 0.4 * ends * other * np.exp(-(other**2) / 2)

    assert measure_voids(photo(gain), px_per_mm=PX_PER_MM).count == 0


@pytest.mark.parametrize("look", ["auto", "bright"])
def test_the_flanks_of_a_wide_crease_are_no_voids(look):
    wide = ACROSS / 2.8
    gain = 1 + ENDS * 0.4 * wide * np.exp(-(wide**2) / 2)

    assert measure_voids(photo(gain), px_per_mm=PX_PER_MM, look=look).count == 0


def test_a_pale_line_of_one_side_is_no_crease():
    band = np.where(np.abs(ACROSS) < 0.75, 1 + 0.3 * (ENDS > 0.5), 1.0)
    true = float((band > 1).mean())

    found = measure_voids(photo(band), px_per_mm=PX_PER_MM)

    assert found.void_fraction == pytest.approx(true, rel=0.1)


def test_dark_voids_beside_a_crease_and_on_it_count():
    gain, true = creased(), np.zeros((ROWS, COLUMNS), bool)
    on_it = np.argmin(np.abs(ACROSS[:, 450] + 1))
    for x, y in ((450, on_it), *((100 + 140 * k, 80) for k in range(6))):
        true |= (X - x) ** 2 + (Y - y) ** 2 < 6**2
    gain = np.where(true, 0.4 * gain, gain)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.look == "dark"
    assert found.count == 7
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.1)


@pytest.mark.parametrize(
    ("gap", "steep", "wide"),
    [(0.08, 0.7, 0.6), (0.08, 0.7, 0.8), (0.16, 0.7, 0.8), (0.16, 0.6, 0.6), (0.2, 0.7, 0.6)],
)
def test_what_is_dark_of_weave_on_a_sharp_crease_does_not_bring_back_its_flank(gap, steep, wide):
    """The flank of 40 by 1.5 mm would be 1 % of the surface; voids are found on folds anew."""
    at = ACROSS / wide
    weave = 1 - gap * np.maximum(*(np.exp(-(((np.mod(z, 8) - 4) / 1.2) ** 2)) for z in (X, Y)))
    places = [(x, y) for x in range(60, COLUMNS, 112) for y in (60, 140, 460, 540)]
    true = np.logical_or.reduce([(X - x) ** 2 + (Y - y) ** 2 < 5**2 for x, y in places])
    gain = (1 + ENDS * steep * at * np.exp(-(at**2) / 2)) * weave * np.where(true, 0.5, 1.0)

    found = measure_voids(photo(gain), px_per_mm=PX_PER_MM)

    assert found.count == len(places)
    assert found.void_fraction == pytest.approx(true.mean(), rel=0.05)


def test_where_creases_leave_nothing_beside_them_the_surface_is_told_as_a_whole():
    places = [(x, y) for x in range(60, COLUMNS, 112) for y in (60, 140, 460, 540)]
    true = np.logical_or.reduce([(X - x) ** 2 + (Y - y) ** 2 < 5**2 for x, y in places])
    grey = photo(np.where(true, 0.5, 1.0))
    surface = prepare(grey, np.ones(grey.shape, bool), PX_PER_MM)
    judged = tails_of(surface, "dark")["dark"]
    found = find_voids(surface, "dark", judged)
    everywhere = Creases(np.ones((ROWS // 4, COLUMNS // 4), np.int32), [0.1], 4, 0.4, 1.0)

    again, tail = either_side._beside_creases(found, everywhere, surface, judged, "dark")

    assert tail == judged
    assert again.kept.sum() == found.kept.sum() == len(places)
