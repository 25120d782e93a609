"""The tables of blurred discs and slits, worked out again from the distributions."""

import numpy as np
import pytest
from scipy.special import chndtr, ndtr

from defectlog.measure import blurred


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

    Returns the share of contrast shown, the length of the outline at half contrast as a share
    of the true one, its breadth, and the true area as a share of what it encloses. Blur along
    the length is left out; the breadth tapers to the ends, which therefore fade.
    """
    shown, length, breadth, area = (np.empty_like(width) for _ in range(4))
    along = (np.arange(80) + 0.5)[:, None] / 80
    taper = np.sqrt(1 - along**2)
    for k, wide in enumerate(width):
        across = np.linspace(0, wide / 2 + 5, 400)
        profile = ndtr(across + wide / 2 * taper) - ndtr(across - wide / 2 * taper)
        plateau = float(profile.max())
        for share in (0.5, 0.7):
            plateau = float(profile[profile >= share * plateau].mean())
        inside = profile >= 0.5 * plateau
        # An ellipse's half axes are twice the deviations of its area along them.
        length[k] = 2 * np.sqrt(float((along**2 * inside).sum() / inside.sum()))
        breadth[k] = 4 * np.sqrt(float((across**2 * inside).sum() / inside.sum()))
        area[k] = wide / 2 * float(taper.sum()) / (across[1] * inside.sum())
        shown[k] = plateau
    return shown, length, breadth, area


def test_discs_show_as_the_non_central_chi_square_distribution_has_them():
    shown, half, edge = discs(blurred.DISC_RADIUS)

    assert pytest.approx(shown, rel=1e-5) == blurred.DISC_SHOWN
    assert pytest.approx(half, rel=1e-5) == blurred.DISC_HALF_RADIUS
    assert pytest.approx(edge, rel=1e-5) == blurred.DISC_EDGE


def test_slits_show_as_the_normal_distribution_has_them():
    shown, length, breadth, area = slits(blurred.SLIT_BREADTH)

    assert pytest.approx(shown, rel=1e-5) == blurred.SLIT_SHOWN
    assert pytest.approx(length, rel=1e-5) == blurred.SLIT_LENGTH
    assert pytest.approx(breadth, rel=1e-5) == blurred.SLIT_HALF_BREADTH
    assert pytest.approx(area, rel=1e-5) == blurred.SLIT_AREA


@pytest.mark.parametrize("distance", [1.2, 2.5, 5.0])
def test_beyond_a_disc_as_much_is_left_as_that_distribution_has(distance):
    radius = np.minimum(blurred.DISC_RADIUS, blurred.STRAIGHT)
    at = radius - blurred.DISC_RADIUS + blurred.DISC_HALF_RADIUS + distance
    left = chndtr(radius**2, 2.0, at**2) / blurred.DISC_SHOWN

    assert blurred.disc_beyond(distance) == pytest.approx(left, rel=1e-4, abs=1e-9)


def test_beyond_a_large_disc_as_much_is_left_as_beyond_an_edge():
    assert blurred.disc_beyond(1.5)[-1] == pytest.approx(ndtr(-1.5), rel=0.1)
