"""A core cut crosswise, whose grooves show through clear cloth as one net all over it."""

import cv2
import numpy as np
import pytest

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.arrays.pixels import listed
from defectlog.measure.candidates.nets import of_nets
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.cloth.weave_objects import objects_of

ROWS, COLUMNS, PX_PER_MM = 900, 1200, 6.5
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
APART = 160  # 25 mm from groove to groove
OFF = np.minimum(*(np.abs(np.mod(at + 50, APART) - APART / 2) for at in (X, Y)))
# Tows of 1.8 mm lie across three bars of the net, near to both their ends.
BROKEN = ((510, 190), (830, 350), (190, 510))


def shown(broken: bool) -> np.ndarray:
    """Where grooves are to be seen at all."""
    where = np.ones(X.shape, bool)
    for left, top in BROKEN if broken else ():
        for row in (top + 16, top + APART - 28):
            where[row : row + 12, left - 20 : left + 20] = False
    return where


def measured(gain: np.ndarray, seed: int) -> VoidMeasurement:
    return measure_voids(photo(gain, seed), px_per_mm=PX_PER_MM)


def photo(gain: np.ndarray, seed: int) -> np.ndarray:
    """Cloth with grain of half a millimetre."""
    rng = np.random.default_rng(seed)
    knots = rng.normal(0, 1, (ROWS // 3, COLUMNS // 3)).astype(np.float32)
    grain = 1 + 0.03 * cv2.resize(knots, (COLUMNS, ROWS), interpolation=cv2.INTER_CUBIC)
    light = 0.3 * gain * grain + rng.normal(0, 0.003, gain.shape)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.8)
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("broken", [False, True])
def test_a_net_of_grooves_makes_no_voids_of_the_grain_between_them(broken, seed):
    gain = 1 - 0.12 * shown(broken) * np.exp(-((OFF / 6) ** 2))

    found = measured(gain, seed)

    assert found.void_fraction == 0.0
    assert any("cloth" in one.why for one in found.rejected)


@pytest.mark.parametrize("seed", [2, 3])
def test_voids_on_a_core_with_grooves_are_found_for_all_that(seed):
    places = [(APART * k + 80, APART * (k % 5) + 94) for k in range(7)]
    true = np.logical_or.reduce([np.hypot(X - x, Y - y) < 5 for x, y in places])
    gain = np.where(true, 0.8, 1 - 0.08 * np.exp(-((OFF / 6) ** 2)))

    found = measured(gain, seed)

    assert found.voids_mask[true].mean() > 0.9
    assert found.void_fraction_low <= true.mean() <= found.void_fraction_high
    assert found.void_fraction == pytest.approx(true.mean(), abs=0.0015)


def test_what_goes_from_bar_to_bar_is_of_the_net_and_what_ends_between_is_not():
    net = (OFF < 6) & shown(broken=True)
    lone = np.zeros_like(net)
    lone[60:68, 60:160] = lone[260:300, 580:588] = lone[420:432, 420:432] = True
    mask = net | lone

    surface = prepare(photo(1 - 0.12 * mask, seed=1), np.ones_like(mask), PX_PER_MM)
    objects = objects_of(mask, listed(mask))

    assert np.array_equal(objects.drawn(of_nets(objects, surface)), net)
