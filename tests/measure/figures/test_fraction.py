"""The area fraction and its two intervals."""

import math

import numpy as np
import pytest

from defectlog.measure.cloth.surface import NothingInspectedError
from defectlog.measure.figures.fraction import area_fraction, measuring_interval

# Student's t, two-sided 95 %, by degrees of freedom: NIST/SEMATECH e-Handbook of Statistical
# Methods, table 1.3.6.7.2.
NIST_T = {3: 3.182, 4: 2.776, 8: 2.306, 9: 2.262, 15: 2.131, 24: 2.064}


@pytest.mark.parametrize(
    ("grid", "freedom"),
    [((2, 2), 3), ((1, 5), 4), ((3, 3), 8), ((2, 5), 9), ((4, 4), 15), ((5, 5), 24)],
)
def test_the_spread_uses_t_of_the_number_of_fields(grid, freedom):
    # A fifth of one field of n is void, 100 px each: mean 0.2/n,
    # s = 0.2·√(((1-1/n)² + (n-1)/n²)/(n-1)).
    n = grid[0] * grid[1]
    voids = np.zeros((grid[0] * 10, grid[1] * 10), dtype=bool)
    voids[:10, :2] = True
    s = 0.2 * math.sqrt(((1 - 1 / n) ** 2 + (n - 1) / n**2) / (n - 1))

    found = area_fraction(voids, np.ones_like(voids), grid=grid)

    assert found.value == pytest.approx(0.2 / n)
    assert found.fields == n
    assert found.high - found.value == pytest.approx(NIST_T[freedom] * s / math.sqrt(n), rel=2.5e-4)


def test_ten_fields_counted_by_hand_give_the_published_recipe():
    # ASTM E562's recipe on hits of 100 points: 5 3.5 4 6 2.5 5 4.5 3 4 5.5: mean 4.3 %,
    # s 1.1106, t(9) s / √10 = 2.262 · 1.1106 / √10 = 0.794. Fields of 200 px, so whole pixels.
    voids = np.zeros((200, 10), dtype=bool)
    for field, hits in enumerate([5, 3.5, 4, 6, 2.5, 5, 4.5, 3, 4, 5.5]):
        rows = voids[field * 20 : field * 20 + 20].reshape(-1)
        rows[: int(hits * 2)] = True

    found = area_fraction(voids, np.ones_like(voids), grid=(10, 1))

    assert found.value == pytest.approx(0.043)
    assert found.high - found.value == pytest.approx(0.00794, abs=1e-5)


def test_what_is_not_inspected_counts_on_neither_side():
    voids = np.zeros((40, 40), dtype=bool)
    voids[:, :20] = True
    inspected = np.ones_like(voids)
    inspected[:, :10] = False

    found = area_fraction(voids, inspected)

    assert found.void_px == 40 * 10
    assert found.inspected_px == 40 * 30
    assert found.value == pytest.approx(1 / 3)


def test_a_small_region_has_fields_of_its_own():
    rng = np.random.default_rng(5)
    voids = rng.random((100, 150)) < 0.1
    whole = area_fraction(voids, np.ones_like(voids))
    large, region = (np.zeros((3000, 4000), dtype=bool) for _ in range(2))
    own = slice(2850, 2950), slice(3800, 3950)  # within one field of the picture
    large[own], region[own] = voids, True

    assert area_fraction(large, region) == whole


def test_a_surface_without_fields_says_what_to_do():
    nothing = np.zeros((40, 40), dtype=bool)

    with pytest.raises(NothingInspectedError, match="larger region"):
        area_fraction(nothing, nothing)


def test_masks_of_different_shape_are_a_mistake():
    with pytest.raises(ValueError, match="differ in shape"):
        area_fraction(np.zeros((4, 4), bool), np.zeros((4, 5), bool))


def test_no_voids_still_leave_room_for_some():
    low, high = measuring_interval(0.0, 0.0)

    assert low == 0.0
    assert high == pytest.approx(0.001)  # a tenth of a percentage point


def test_the_interval_joins_outlines_sizes_and_the_floor():
    # Outlines 0.12 %, 0.5 % of 4 % 0.02 %; voids unseen 0.03 and false ones 0.02 %:
    # √(0.0144 + 0.0004 + 0.0009) = 0.1253 %, √(0.0144 + 0.0004 + 0.0004) = 0.12329 %.
    low, high = measuring_interval(0.04, 0.0012)

    assert high - 0.04 == pytest.approx(0.001253, abs=5e-7)
    assert 0.04 - low == pytest.approx(0.0012329, abs=5e-7)


def test_sizes_of_bright_voids_are_less_sure():
    # 3 % of 4 % 0.12 %: √(0.0144 + 0.0144 + 0.0009) = 0.17234 %.
    _, high = measuring_interval(0.04, 0.0012, is_bright=True)

    assert high - 0.04 == pytest.approx(0.0017234, abs=5e-7)


def test_sizes_of_a_few_voids_do_not_even_out():
    # Nine of one size make up a third, each off by 3 %: 4 % · 0.03 / 3 = 0.04 %;
    # √(0.0016 + 0.0004 + 0.0009) = 0.05385 %.
    _, high = measuring_interval(0.04, 0.0, each=0.04 / 3)

    assert high - 0.04 == pytest.approx(0.0005385, abs=5e-7)


def test_what_only_just_counts_may_be_none_or_have_as_much_below_the_threshold():
    # 0.3 % only just counts, 0.1 % is too faint to; sizes are off by 0.025 %. Below, 2 · 0.3:
    # √(0.36 + 0.000625 + 0.0004) = 0.60085 %; above 0.1, and 0.3 + 0.1 more:
    # √(0.25 + 0.000625 + 0.0009) = 0.50152 %.
    low, high = measuring_interval(0.05, 0.0, barely=0.003, faint=0.001)

    assert 0.05 - low == pytest.approx(0.0060085, abs=5e-7)
    assert high - 0.05 == pytest.approx(0.0050152, abs=5e-7)


def test_half_as_much_again_may_lie_below_the_threshold_though_none_was_seen_there():
    # 1.5 · 0.2: √(0.09 + 0.000625 + 0.0009) = 0.30253 %.
    _, high = measuring_interval(0.05, 0.0, barely=0.002)

    assert high - 0.05 == pytest.approx(0.0030253, abs=5e-7)


def test_what_is_too_faint_is_cloth_where_all_voids_are_strong_and_may_be_void_where_none_is():
    assert measuring_interval(0.05, 0.0, faint=0.001) == measuring_interval(0.05, 0.0)
    # No more than twice the 0.02 % that only just count: 0.04 + 0.02 + 0.04 = 0.1 %, beside
    # sizes and unseen ones: √(0.01 + 0.000625 + 0.0009) = 0.10735 %.
    _, high = measuring_interval(0.05, 0.0, barely=0.0002, faint=0.001)
    assert high - 0.05 == pytest.approx(0.0010735, abs=5e-7)
    # √(0.3² + 0.1²) = 0.31623 %.
    assert measuring_interval(0.0, 0.0, faint=0.003)[1] == pytest.approx(0.0031623, abs=5e-7)


def test_resin_that_shows_as_weak_voids_do_may_be_void():
    # Of 0.3 % resin twice the 0.1 % of voids no stronger, beside sizes and unseen ones:
    # √(0.04 + 0.000625 + 0.0009) = 0.20378 %; of 0.1 % all: √(0.01 + 0.001525) = 0.10735 %.
    for resin, room in ((0.003, 0.0020378), (0.001, 0.0010735)):
        _, high = measuring_interval(0.05, 0.0, resin=resin, as_weak=0.001)
        assert high - 0.05 == pytest.approx(room, abs=5e-7)
    assert measuring_interval(0.05, 0.0, resin=0.003) == measuring_interval(0.05, 0.0)


def test_the_interval_is_wider_the_further_the_tows_of_two_tone_cloth_differ():
    # Beyond 0.3 by 0.5 log units: outlines off by 0.6 · 0.5 of 5 %, 1.5 %, 0.12 % more and
    # 0.025 % of all sizes √(2.25 + 0.015025); unseen 0.03 + 1 · 0.5 = 0.53 %:
    # √(2.265025 + 0.2809) = 1.5956 %; false ones √(2.265025 + 0.0004) = 1.50513 %.
    low, high = measuring_interval(0.05, 0.0012, swing=0.8)

    assert high - 0.05 == pytest.approx(0.015956, abs=5e-7)
    assert 0.05 - low == pytest.approx(0.0150513, abs=5e-7)
    assert measuring_interval(0.05, 0.0012, swing=0.3) == measuring_interval(0.05, 0.0012)


def test_the_interval_stays_a_fraction():
    assert measuring_interval(0.999, 0.004)[1] == 1.0
    assert measuring_interval(0.001, 0.004)[0] == 0.0


def test_fields_that_are_alike_side_by_side_widen_the_spread():
    inspected = np.ones((500, 500), bool)
    gathered, mixed = np.zeros_like(inspected), np.zeros_like(inspected)
    # As many void pixels in as many fields: in one corner, or everywhere between the others.
    for k in range(12):
        row, column = divmod(k, 4)
        gathered[row * 100 : row * 100 + 30, column * 100 : column * 100 + 30] = True
        row, column = divmod(2 * k, 5)
        mixed[row * 100 : row * 100 + 30, column * 100 : column * 100 + 30] = True

    near, far = area_fraction(gathered, inspected), area_fraction(mixed, inspected)

    assert near.value == far.value
    assert near.high - near.low > 1.2 * (far.high - far.low)


def test_what_cloth_may_hide_is_room_above_and_none_below():
    low, high = measuring_interval(0.1, 0.0)
    low_there, high_there = measuring_interval(0.1, 0.0, hidden=0.03)

    assert low_there == low
    assert math.hypot(high - 0.1, 0.03) == pytest.approx(high_there - 0.1)


def test_what_was_taken_for_noise_makes_the_figure_unsure_to_both_sides():
    without, noisy = measuring_interval(0.03, 0.0), measuring_interval(0.03, 0.0, noise=0.005)

    assert noisy[0] < without[0] and without[1] < noisy[1]
    assert noisy[1] - noisy[0] < 0.01  # no more than the specks themselves, either way
