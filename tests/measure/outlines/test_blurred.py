"""The tables of blurred discs and slits, worked out again from the distributions."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.special import chndtr, ndtr

from defectlog.measure.outlines import blurred
from defectlog.measure.outlines.judging import half_width


def discs(radius):
    """How blurred discs show.

    The profile of a disc blurred by a Gaussian is a non-central chi-square distribution
    with two degrees of freedom; the plateau is taken as ``outline.rise_of`` takes it.
    """
    shown, half, edge = (np.empty_like(radius) for _ in range(3))
    for k, rho in enumerate(radius):
        r = np.linspace(0, rho + 5, 1500)
        profile = chndtr(rho**2, 2.0, r**2)
        plateau = profile[0]
        for share in (0.5, 0.7):
            upper = profile >= share * plateau
            plateau = float((profile * r)[upper].sum() / r[upper].sum())
        shown[k] = plateau
        out, half[k], within = np.interp(
            [-0.35 * plateau, -0.5 * plateau, -0.65 * plateau], -profile, r
        )[[0, 1, 2]]
        edge[k] = (out**2 - within**2) / (2 * half[k])
    return shown, half, edge


def slits(width):
    """How long blurred ellipses show, by their breadth in deviations of the blur.

    They are four times as long as they show wide, a thread being 2.9 deviations wide at half its
    contrast. Returns the share of contrast shown; the length of the outline at half contrast as
    a share of the true one, its breadth, and the true area as a share of what it encloses; the
    area between 65 and 35 % of the rise over the length of that outline, and half its width as
    ``judging.half_width`` tells it.
    """
    return np.array([slit(wide, 4 * np.hypot(wide, 2.9)) for wide in width]).T


def slit(wide, long):
    """The same of one, told in a quarter of it."""
    down, over = 0.1 if wide > 6 else 0.05, 0.02 if wide < 1 else min(0.05, wide / 40)
    along = (np.arange(int((long / 2 + 5) / down) + 1) + 0.5)[:, None] * down
    across = (np.arange(int((wide / 2 + 5) / over) + 1) + 0.5) * over
    taper = wide / 2 * np.sqrt(np.clip(1 - (2 * along / long) ** 2, 0, None))
    # Blurred across as the normal distribution says, and then along.
    profile = ndtr(across + taper) - ndtr(across - taper)
    both_ends = np.concatenate([profile[::-1], profile])
    profile = gaussian_filter1d(both_ends, 1 / down, axis=0, truncate=6, mode="constant")
    profile = profile[len(along) :]
    plateau = float(profile.max())
    for share in (0.5, 0.7):
        plateau = float(profile[profile >= share * plateau].mean())
    inside = profile >= 0.5 * plateau
    between = (profile >= 0.35 * plateau) & (profile < 0.65 * plateau)
    area, edge = (4 * down * over * np.count_nonzero(which) for which in (inside, between))
    # An ellipse's half axes are twice the deviations of its area along them.
    a, b = (2 * np.sqrt(float((at**2 * inside).sum() / inside.sum())) for at in (along, across))
    outline = np.pi * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b)))  # Ramanujan 1914
    half = float(half_width(np.array([area]), np.array([outline]))[0])
    return plateau, 2 * a / long, 2 * b, np.pi / 4 * wide * long / area, edge / outline, half


def test_discs_show_as_the_non_central_chi_square_distribution_has_them():
    shown, half, edge = discs(blurred.DISC_RADIUS)

    assert pytest.approx(shown, rel=1e-5) == blurred.DISC_SHOWN
    assert pytest.approx(half, rel=1e-5) == blurred.DISC_HALF_RADIUS
    assert pytest.approx(edge, rel=1e-5) == blurred.DISC_EDGE


def test_slits_show_as_the_normal_distribution_has_them():
    shown, length, breadth, area, edge, half = slits(blurred.SLIT_BREADTH)

    assert pytest.approx(shown, rel=1e-5) == blurred.SLIT_SHOWN
    assert pytest.approx(length, rel=1e-5) == blurred.SLIT_LENGTH
    assert pytest.approx(breadth, rel=1e-5) == blurred.SLIT_HALF_BREADTH
    assert pytest.approx(area, rel=1e-5) == blurred.SLIT_AREA
    assert pytest.approx(edge, rel=1e-5) == blurred.SLIT_EDGE
    assert pytest.approx(half, rel=1e-5) == blurred.SLIT_HALF_WIDTH


@pytest.mark.parametrize("distance", [1.2, 2.5, 5.0])
def test_beyond_a_disc_as_much_is_left_as_that_distribution_has(distance):
    radius = np.minimum(blurred.DISC_RADIUS, blurred.STRAIGHT)
    at = radius - blurred.DISC_RADIUS + blurred.DISC_HALF_RADIUS + distance
    left = chndtr(radius**2, 2.0, at**2) / blurred.DISC_SHOWN

    assert blurred.disc_beyond(distance) == pytest.approx(left, rel=1e-4, abs=1e-9)


def test_beyond_a_large_disc_as_much_is_left_as_beyond_an_edge():
    assert blurred.disc_beyond(1.5)[-1] == pytest.approx(ndtr(-1.5), rel=0.1)


@pytest.mark.parametrize("distance", [1.0, 1.6, 2.5])
def test_of_a_discs_light_as_much_lies_further_out_as_that_distribution_has(distance):
    chosen = np.searchsorted(blurred.DISC_RADIUS, [0.5, 1.5, 3.0, 8.0])
    lost = []
    for radius, half in zip(
        blurred.DISC_RADIUS[chosen], blurred.DISC_HALF_RADIUS[chosen], strict=True
    ):
        r = np.linspace(half + distance, half + distance + 8, 4000)
        lost.append(np.trapezoid(chndtr(radius**2, 2.0, r**2) * 2 * r, r) / radius**2)

    assert blurred.disc_lost(distance)[chosen] == pytest.approx(lost, rel=0.01)
