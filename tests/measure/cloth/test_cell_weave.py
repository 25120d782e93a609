"""The pattern of a weave on maps of cloth that are drawn so that it is known."""

import numpy as np
import pytest

from defectlog.measure.cloth.cell_weave import comes_again

CELL_MM = 0.5
Y, X = np.mgrid[:140, :180].astype(np.float32)
TOW = 4  # cells across
NOISE = np.random.default_rng(7).normal(0, 0.03, X.shape).astype(np.float32)


def twill(strength: float) -> np.ndarray:
    """Warp over two tows of weft and under two, a tow further on in each row."""
    over = (X // TOW + Y // TOW) % 4 < 2
    return np.where(over, strength, -strength).astype(np.float32)


def test_the_pattern_of_a_twill_is_told_where_none_of_it_can_be_seen():
    cloth = twill(0.1)
    hidden = np.hypot(X - 90, Y - 70) < 14
    own = np.where(hidden, 0.5, cloth) + NOISE

    again = comes_again(own, ~hidden, CELL_MM)

    assert np.corrcoef(again[hidden], cloth[hidden])[0, 1] > 0.9
    assert again[hidden].std() == pytest.approx(cloth[hidden].std(), rel=0.15)


def test_what_is_at_one_place_alone_is_no_pattern():
    gleam = 0.2 * np.exp(-((X - 60) ** 2 + (Y - 50) ** 2) / (2 * 10.0**2))

    again = comes_again(twill(0.1) + NOISE + gleam, np.ones(X.shape, bool), CELL_MM)

    rest = again - twill(0.1)
    assert np.abs(np.corrcoef(rest.ravel(), gleam.ravel())[0, 1]) < 0.3
    assert rest.std() < 0.2 * gleam.max()


def test_of_a_surface_without_weave_nothing_comes_again():
    assert np.abs(comes_again(NOISE, np.ones(X.shape, bool), CELL_MM)).max() < 0.02
