"""A threshold set by hand counts what lies beyond it, and the live picture says the same."""

import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.hand_set import LEAST, MOST, BadThresholdError
from defectlog.measure.lengths.region import RegionError
from defectlog.measure.lengths.scale import given_scale
from defectlog.measure.live_picture import live_picture
from tests.pictures import CASES, Surface, render

TRIED = (0.1, 0.2, 0.3, 0.45, 0.6)
SMALL = render(Surface(size_mm=(50, 40), fraction=0.03, rake=0.3, seed=31))
CARBON = render(CASES["dark on carbon"])


def by_hand(picture, threshold, **asked):
    return measure_voids(picture.grey, px_per_mm=picture.px_per_mm, threshold=threshold, **asked)


@pytest.mark.parametrize("picture", [SMALL, CARBON], ids=["glass", "carbon"])
def test_a_higher_threshold_never_counts_more(picture):
    tried = [by_hand(picture, threshold) for threshold in (LEAST, *TRIED, MOST)]

    for lower, higher in zip(tried, tried[1:], strict=False):
        assert higher.void_fraction <= lower.void_fraction
        assert not (higher.voids_mask & ~lower.voids_mask).any()


@pytest.mark.parametrize("name", ["dark on carbon", "bright on carbon"])
def test_a_threshold_by_hand_finds_the_voids_and_not_the_tows_of_carbon(name):
    picture = render(CASES[name])
    # Three tenths off: more than the noise, and less than half of what these voids lack.
    found = by_hand(picture, 0.3)

    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.004)
    assert found.look == name.split()[0]


def test_the_very_pixels_beyond_the_threshold_are_counted():
    # Even light, no weave: discs that give back half of the light round them, by construction.
    grey = np.full((600, 800), 180, np.uint8)
    noise = np.random.default_rng(3).integers(-2, 3, grey.shape)
    rows, columns = np.indices(grey.shape)
    true = np.zeros(grey.shape, bool)
    for x, y in ((150, 150), (400, 300), (650, 450)):
        true |= np.hypot(columns - x, rows - y) <= 30
    light = (grey / 255) ** 2.2 * np.where(true, 0.5, 1.0)
    grey = np.clip(np.rint(light ** (1 / 2.2) * 255) + noise, 0, 255).astype(np.uint8)

    found = measure_voids(grey, px_per_mm=10, threshold=0.25)

    assert found.count == 3
    # The edge is smoothed over two pixels of an outline of 3 × 190.
    assert found.void_fraction == pytest.approx(true.mean(), abs=0.0006)
    # Nothing of a half-deep void lies 60 % below its surroundings.
    assert measure_voids(grey, px_per_mm=10, threshold=0.6).count == 0


def test_the_interval_says_that_it_covers_this_threshold_only():
    found = by_hand(SMALL, 0.3)

    assert found.void_fraction_low < found.void_fraction < found.void_fraction_high
    assert any("at this threshold only" in words for words in found.warnings)
    assert found.settings["threshold"] == 0.3
    assert found.threshold == pytest.approx(0.3)
    # Only size is held against anything, never its look.
    assert all(one.d_px < 2.5 for one in found.rejected)


def test_the_same_input_gives_the_same_figures_to_the_bit():
    assert by_hand(CARBON, 0.3) == by_hand(CARBON, 0.3)


@pytest.mark.parametrize("threshold", [0.0, 0.04, 0.96, 1.5, float("nan")])
def test_a_threshold_out_of_range_is_refused_in_words(threshold):
    with pytest.raises(BadThresholdError, match="from 5 to 95 %"):
        by_hand(SMALL, threshold)


@pytest.mark.parametrize("threshold", [None, 0.3])
def test_what_is_left_out_is_neither_inspected_nor_counted(threshold):
    rows, columns = SMALL.grey.shape
    outline = ((100, 80), (300, 80), (300, 200), (100, 200))
    found = by_hand(SMALL, threshold, leave_out=[outline])

    inside = np.zeros(SMALL.grey.shape, bool)
    inside[80:201, 100:301] = True  # an outline's own pixels are left out as well
    assert not (found.inspected_mask & inside).any()
    assert not (found.voids_mask & inside).any()
    assert found.inspected_px == rows * columns - np.count_nonzero(inside)
    # As the very same surface handed over as a mask.
    alone = by_hand(SMALL, threshold, region=~inside)
    assert (found.void_fraction, found.count) == (alone.void_fraction, alone.count)
    assert found.settings["leave_out"] == [[[float(x), float(y)] for x, y in outline]]
    assert found.not_inspected_fraction == alone.not_inspected_fraction


def test_leaving_out_everything_is_said():
    everything = ((-5, -5), (5000, -5), (5000, 5000), (-5, 5000))
    with pytest.raises(RegionError, match="cover all"):
        by_hand(SMALL, None, leave_out=[everything])


def test_without_them_nothing_of_them_is_in_the_settings():
    settings = measure_voids(SMALL.grey, px_per_mm=SMALL.px_per_mm).settings

    assert not {"threshold", "leave_out"} & settings.keys()


@pytest.mark.parametrize("most_px", [8_000_000, 500_000], ids=["full size", "reduced"])
def test_the_live_picture_knows_the_share_beyond_every_step(most_px):
    scale = given_scale(CARBON.px_per_mm)
    live = live_picture(CARBON.grey, scale=scale, most_px=most_px)

    assert live.is_reduced == (most_px < CARBON.grey.size)
    assert live.levels.size <= most_px
    for threshold in TRIED:
        found = by_hand(CARBON, threshold)
        specks = np.pi / 4 * 2.5**2  # the most a speck that is not counted can cover, in pixels
        missing = live.shares[round(200 * threshold)] - found.void_fraction
        said = next((w for w in found.warnings if "speck" in w), "0 specks")
        most = int(said.split()[0].replace("\u202f", "")) * specks / found.inspected_px
        assert -1e-9 <= missing <= most + 1e-9
