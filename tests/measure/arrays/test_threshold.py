"""Whether a surface holds voids at all, judged on drawn distributions."""

import numpy as np
import pytest

from defectlog.measure.arrays.threshold import KINK_LIMIT, TWO_TONE_LIMIT, tail

N = 400_000
rng = np.random.default_rng(5)
NORMAL = rng.normal(0, 0.05, N).astype(np.float32)
EXPONENTIAL = (rng.exponential(0.05, N) * rng.choice([-1, 1], N)).astype(np.float32)
# Cloth of two kinds of tow: two humps, bounded.
HUMPED = (0.2 * rng.choice([-1, 1], N) + rng.normal(0, 0.06, N)).astype(np.float32)


def with_voids(surface: np.ndarray, share: float, contrast: float) -> np.ndarray:
    """Add voids, and a third as many pixels of their blurred edges."""
    mixed = surface.copy()
    n = int(share * len(mixed))
    mixed[:n] += contrast
    mixed[n : n + n // 3] += contrast * rng.random(n // 3, dtype=np.float32)
    return mixed


@pytest.mark.parametrize("surface", [NORMAL, EXPONENTIAL, HUMPED], ids=["normal", "exp", "humps"])
def test_a_surface_without_voids_has_none_on_either_side(surface):
    assert not tail(surface, least_sd=1e-3).has_voids
    assert not tail(-surface, least_sd=1e-3).has_voids


def test_the_kink_of_a_normal_or_exponential_tail_is_about_one():
    # By its definition M s / h is 1 for an exponential tail. For a normal one, at z: M/h is
    # Mills' ratio, below 1/z, and the steepness before z below z: at most 1.
    assert tail(EXPONENTIAL, least_sd=1e-3).kink == pytest.approx(1.0, abs=0.5)
    assert tail(NORMAL, least_sd=1e-3).kink < 1.5


@pytest.mark.parametrize("share", [0.001, 0.01, 0.05, 0.15])
@pytest.mark.parametrize("surface", [NORMAL, HUMPED], ids=["normal", "humps"])
def test_voids_stand_out_from_a_thousandth_to_a_seventh(surface, share):
    found = tail(with_voids(surface, share, 0.9), least_sd=1e-3)

    assert found.kink > KINK_LIMIT
    # Found by less than the voids' contrast, and by more than nearly all of the surface.
    assert found.threshold < 0.9
    assert np.mean(surface > found.threshold) < 0.001


def test_a_few_voids_that_are_far_stronger_do_not_raise_the_threshold_for_the_rest():
    # A thirtieth is void and lacks a third of the light, more or less; one pixel in 2700 lacks
    # four fifths. The clearest kink of all is the one between these.
    share = rng.normal(0.35, 0.1, N // 30).clip(0, 0.65)
    share[: len(share) // 3] *= rng.random(len(share) // 3)
    weak = NORMAL.copy()
    weak[: len(share)] -= np.log1p(-share).astype(np.float32)
    both = weak.copy()
    both[-150:] += 1.6

    with_strong, without = tail(both, least_sd=1e-3), tail(weak, least_sd=1e-3)

    assert with_strong.kink > without.kink
    assert without.threshold < 0.9 * without.careful
    assert with_strong.threshold == pytest.approx(without.threshold, rel=0.03)


def test_voids_cannot_widen_the_noise_they_are_judged_by():
    clean, dense = (tail(s, least_sd=1e-3) for s in (NORMAL, with_voids(NORMAL, 0.15, 0.9)))

    # Beside the voids' 0.9 the 0.25 of the surface alone hardly moves.
    assert dense.careful == pytest.approx(clean.careful, abs=0.1)


def test_the_dark_side_of_two_tone_cloth_needs_less_of_a_kink_and_the_bright_side_does_not():
    two_tone = 2 * HUMPED

    assert tail(two_tone, least_sd=1e-3, dark=True).limit == TWO_TONE_LIMIT
    assert not tail(two_tone, least_sd=1e-3, dark=True).has_voids
    assert tail(two_tone, least_sd=1e-3).limit == KINK_LIMIT
    assert tail(HUMPED / 2, least_sd=1e-3, dark=True).limit == KINK_LIMIT


def test_a_surface_flatter_than_its_grey_steps_has_no_voids():
    assert not tail(np.zeros(10_000, np.float32), least_sd=5e-3).has_voids


def test_voids_of_all_strengths_are_a_population_once_the_weave_is_taken_out():
    # Noise of 0.04 about the cloth; 3 % lack all from nothing to 1.2 in log units of light.
    rng = np.random.default_rng(5)
    sound = rng.normal(0, 0.04, 100_000)
    voids = rng.uniform(0, 1.2, 3_000)
    excess = np.concatenate([sound, voids]).astype(np.float32)

    judged = tail(excess, least_sd=0.002, dark=True, bare=True)

    assert judged.has_voids
    assert 0.15 < judged.threshold < 0.4  # four to ten times the noise
    assert not tail(sound.astype(np.float32), least_sd=0.002, dark=True, bare=True).has_voids


@pytest.mark.parametrize(("others", "has_voids"), [(0.01, True), (0.1, False)])
def test_where_voids_of_the_other_side_tell_the_cloth_what_is_left_is_no_void(others, has_voids):
    # A tenth: two or more of six are void by chance 1 - 0.9^6 - 6 · 0.1 · 0.9^5 = 0.114 of the
    # time; a hundredth: 0.0015. A hundredth lies to the side that is asked for.
    cloth = (0.6 * NORMAL).astype(np.float32)
    cloth[: N // 100] += 0.8
    cloth[-int(others * N) :] -= 0.8

    assert tail(cloth, least_sd=1e-3, bare=True).has_voids == has_voids


# Cloth that was taken out falls off slower to its bright side, where edges were met only nearly.
left = np.random.default_rng(8)
LEFT_OF_CLOTH = np.where(
    left.random(N) < 0.5, left.exponential(0.03, N), -left.exponential(0.08, N)
).astype(np.float32)


def test_voids_of_all_strengths_begin_where_what_is_left_of_cloth_ends():
    # A twelfth is void, from nothing up to 1.2 evenly, as on tows of all tones.
    light, n = LEFT_OF_CLOTH.copy(), N // 12
    light[:n] = left.uniform(0, 1.2, n)

    threshold = tail(light, least_sd=1e-3, bare=True).threshold

    # The bright side alone would have asked for half a log unit.
    assert threshold < 0.3
    is_void = np.arange(N)[(light > threshold) & (light < threshold + 0.05)] < n
    assert is_void.mean() > 5 / 6


def test_a_single_void_beside_glare_stands_out_seven_times_as_far_as_what_is_left_of_cloth():
    # Nine tenths of half of it reach 0.08 · ln 10 = 0.18 log units to the bright side.
    beside = tail(LEFT_OF_CLOTH, least_sd=1e-3, bare=True, glared=True)

    assert beside.lone == pytest.approx(7 * 0.18, rel=0.05)
    assert beside.lone > tail(LEFT_OF_CLOTH, least_sd=1e-3, bare=True).lone


def test_beside_few_voids_the_rest_of_cloth_is_kept_out():
    # A hundredth is void.
    light, n = LEFT_OF_CLOTH.copy(), N // 100
    light[:n] = left.uniform(0, 1.2, n)

    assert tail(light, least_sd=1e-3, bare=True).threshold == pytest.approx(0.5, abs=0.02)


def test_voids_of_one_strength_do_not_bring_the_threshold_nearer_to_the_cloth():
    light, n = LEFT_OF_CLOTH.copy(), N // 12
    light[:n] = left.normal(1.0, 0.05, n)

    assert tail(light, least_sd=1e-3, bare=True).threshold == pytest.approx(0.5, abs=0.02)
