"""Light that is mirrored over cloth, taken out of what the cloth is like."""

import numpy as np

from defectlog.measure.cloth_maps import cloth_maps
from defectlog.measure.mirrored import without_mirrored
from defectlog.measure.patches import cell_sizes
from defectlog.measure.surface import prepare
from tests.pictures import Surface, render

CLOTH = Surface(size_mm=(80, 60), light=0.07, two_tone=0.25, weave=0.2, noise=0.003, seed=3)


def maps_of(linear: np.ndarray):
    grey = np.round(255 * linear.clip(0, 1) ** (1 / 2.2)).astype(np.uint8)
    surface = prepare(grey, np.ones(grey.shape, bool), CLOTH.px_per_mm)
    return cloth_maps(surface, np.zeros(grey.shape, bool), *cell_sizes(surface))


def test_light_that_is_added_goes_and_cloth_that_is_paler_stays():
    # In the middle half of the light is added, 16 mm across and fading out over some tows; or
    # the cloth itself is half as bright again.
    linear = (render(CLOTH).grey / 255) ** 2.2
    y, x = np.indices(linear.shape) / CLOTH.px_per_mm
    share = 0.5 / (1 + np.exp((np.hypot(x - 40, y - 30) - 8) / 0.8))
    mirrored, paler = (maps_of(linear + share * of) for of in (linear.mean(), linear))

    def risen(chart) -> float:
        rows, columns = (size // 2 for size in chart.wide.shape)
        return float(chart.wide[rows - 3 : rows + 4, columns - 3 : columns + 4].mean())

    assert risen(mirrored[0]) > 0.3  # of 0.4 in log units, less what the even light takes of it
    assert abs(risen(without_mirrored(*mirrored))) < 0.1
    assert risen(without_mirrored(*paler)) > 0.3
