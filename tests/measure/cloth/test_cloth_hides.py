"""Voids on cloth as dark as they are: what may be there beside those that are seen."""

from dataclasses import replace

import numpy as np
import pytest

from defectlog.measure.arrays.light import ONE
from defectlog.measure.cloth.cloth_hides import hidden_voids
from defectlog.measure.cloth.surface import Surface, prepare
from tests.benchmarks.voids_accuracy import drawn
from tests.measure.easy import measured
from tests.pictures import Surface as Drawn
from tests.pictures import render

CARBON = Drawn(size_mm=(60, 45), light=0.07, noise=0.003, two_tone=0.3, weave=0.2)
LIGHT_TOW, DARK_TOW = 1.4, 0.6
HIDES = "voids there can't be told"


def half_and_half(void: float) -> tuple[Surface, np.ndarray]:
    """A light tow beside a dark one, 400 x 200 pixels each, and voids of a light on the light one.

    Four squares of 40 pixels: 8 % of it.
    """
    voids = np.zeros((400, 400), dtype=bool)
    for top in (0, 80, 160, 240):
        voids[top : top + 40, 40:80] = True
    cloth = np.full((400, 400), LIGHT_TOW)
    cloth[:, 200:] = DARK_TOW
    grey = np.where(voids, 60, 100).astype(np.uint8)
    surface = prepare(grey, np.ones_like(voids), 10.0)
    halved = np.rint(ONE * cloth[::2, ::2]).astype(np.uint16)
    ratio = np.rint(ONE * np.where(voids, void, cloth)).astype(np.uint16)
    there = replace(surface, ratio=ratio, expected=halved, least=halved[::2, ::2].copy())
    return there, np.flatnonzero(voids)


def test_as_many_may_lie_on_a_dark_tow_as_are_seen_on_a_light_one():
    # 0.5 · exp(0.4) is 0.75: beyond the dark tow, not the light one. Half the surface, 8 % of it.
    surface, voids = half_and_half(void=0.5)

    assert hidden_voids(surface, voids, 0.4) == pytest.approx(0.5 * 0.08)


def test_nothing_hides_voids_that_are_darker_than_any_tow():
    # 0.2 · exp(0.4) is 0.3.
    surface, voids = half_and_half(void=0.2)

    assert hidden_voids(surface, voids, 0.4) == 0


def test_where_tows_could_not_be_followed_any_void_is_hidden():
    surface, voids = half_and_half(void=0.2)
    surface.least[75:] = 0  # the lower quarter

    # Of the rest, 300 · 400 px, four squares are void.
    assert hidden_voids(surface, voids, 0.4) == pytest.approx(0.25 * 6400 / 120_000)


def test_where_no_void_was_found_none_says_what_cloth_hides():
    surface, voids = half_and_half(void=0.5)

    assert hidden_voids(surface, voids[:0], 0.4) == 0


def test_the_interval_reaches_to_faint_voids_that_dark_tows_hide():
    # The darkest tows lack 0.45 of the light, these voids 0.4: on dark tows hardly any is seen.
    picture = render(replace(CARBON, fraction=0.08, contrast=0.4))

    found = measured(picture)

    assert found.void_fraction < 0.7 * picture.fraction
    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high
    assert any(HIDES in said for said in found.warnings)


def test_the_interval_reaches_to_dense_voids_on_dark_tows_and_where_tows_were_lost():
    picture = drawn("third", 13, "carbon, dense, twill")

    found = measured(picture)

    assert found.void_fraction_low <= picture.fraction <= found.void_fraction_high
    assert any(HIDES in said for said in found.warnings)


def test_of_voids_far_darker_than_tows_nothing_is_hidden():
    picture = render(replace(CARBON, fraction=0.03, contrast=0.8))

    assert not any(HIDES in said for said in measured(picture).warnings)
