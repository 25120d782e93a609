"""Where on a large surface most of it stands out."""

import numpy as np
import pytest

from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.cloth.surface import Surface, prepare
from defectlog.measure.search.fullest_part import fullest_part

Y, X = np.mgrid[:900, :1200]
AT = (700, 1000)


def spotted(light: float) -> Surface:
    """An even surface with a disc of so much light to the lower right, and speckled all over."""
    rng = np.random.default_rng(3)
    grey = 120 + rng.normal(0, 2, X.shape)
    grey[(Y - AT[0]) ** 2 + (X - AT[1]) ** 2 < 60**2] *= light ** (1 / 2.2)
    return prepare(np.rint(grey).astype(np.uint8), np.ones(X.shape, bool), 10.0)


@pytest.mark.parametrize(("side", "light"), [("dark", 0.5), ("bright", 1.6)])
def test_it_is_a_ninth_with_what_stands_out_most(side, light):
    surface = spotted(light)

    part = fullest_part(surface, side, 0.2)

    assert part.inspected_px == pytest.approx(surface.inspected_px / 9, rel=0.05)
    sign = 1.0 if side == "dark" else -1.0
    out = [np.count_nonzero(beyond(one, sign, 0.2)) for one in (part, surface)]
    assert out[0] == out[1] > 10_000


def test_where_nothing_stands_out_it_is_where_the_surface_is():
    surface = spotted(1.0).within((X > 800) & (Y > 600))

    part = fullest_part(surface, "dark", 0.5)

    assert part.inspected_px > 0.9 * surface.inspected_px


def test_a_part_is_as_it_is_in_the_whole():
    surface = spotted(0.5)
    rows, columns = slice(600, 800), slice(900, 1100)

    part = surface.part(rows, columns)

    assert np.array_equal(part.ratio, surface.ratio[rows, columns])
    assert np.array_equal(part.smooth, surface.smooth[rows, columns])
    assert part.inspected_px == part.region_px == 200 * 200
    assert part.px_per_mm == surface.px_per_mm


def test_a_sample_is_of_the_same_light_at_a_smaller_scale():
    surface = spotted(0.5)

    some = surface.sampled(3)

    assert np.array_equal(some.smooth, surface.smooth[::3, ::3])
    assert some.px_per_mm == pytest.approx(surface.px_per_mm / 3)
    assert some.inspected_px == 300 * 400
