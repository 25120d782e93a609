"""Voids that only just count, on discs of known depth."""

from dataclasses import replace

import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.candidates.barely import only_just
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.outlines.shapes import shapes_of
from tests.pictures import CASES, render

Y, X = np.mgrid[:300, :400].astype(np.float32)
# Light left of the surface's: log units of 0.22, 0.25 and 0.5 below it.
LEFT = np.exp(np.array([-0.22, -0.25, -0.5]))


@pytest.mark.parametrize("look", ["dark", "bright"])
def test_voids_up_to_a_third_beyond_the_threshold_only_just_count(look):
    light, mask = np.full(Y.shape, 0.3), np.zeros(Y.shape, bool)
    for k, left in enumerate(LEFT):
        disc = (X - 100 * (k + 1)) ** 2 + (Y - 150) ** 2 < 8**2
        light[disc] *= left if look == "dark" else 1 / left
        mask |= disc
    grey = np.round(255 * light ** (1 / 2.2)).astype(np.uint8)
    surface = prepare(grey, np.ones(grey.shape, bool), 10.0)
    shapes = shapes_of(mask)
    height = 1 - LEFT if look == "dark" else 1 / LEFT - 1

    barely = only_just(shapes, height[np.argsort(shapes.x)], surface, look=look, threshold=0.2)

    # e^0.3 of 0.2 is 0.27.
    assert barely[np.argsort(shapes.x)].tolist() == [True, True, False]


def test_contrasts_that_run_on_into_the_surface_leave_room_above_and_others_do_not():
    # As much void in both; one in twenty of the first has less than half of the usual contrast.
    mixed, strong = (
        render(replace(CASES[name], seed=77, size_mm=(60, 45)))
        for name in ("mixed contrast", "easy")
    )

    found, clear = (measure_voids(one.grey, px_per_mm=one.px_per_mm) for one in (mixed, strong))

    # To the hundredth of a point that figures are shown to.
    assert found.void_fraction_low <= mixed.fraction <= found.void_fraction_high + 1e-4
    assert clear.void_fraction_low <= strong.fraction <= clear.void_fraction_high
    room, little = (one.void_fraction_high - one.void_fraction for one in (found, clear))
    assert room > 1.5 * little
