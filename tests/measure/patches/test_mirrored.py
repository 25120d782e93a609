"""Light that is mirrored over cloth, taken out of what the cloth is like."""

import numpy as np

from defectlog.measure.cloth.cloth_maps import cloth_maps
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.patches.mirrored import is_pale_beyond, without_mirrored
from defectlog.measure.patches.patch_outlines import judge
from defectlog.measure.patches.patches import cell_sizes
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


def test_what_is_half_under_a_pane_is_one_patch_and_the_pane_beside_it_is_not_of_it():
    # Dry cloth half as bright again, 12 mm high and 20 mm wide, with a pane of half the light over
    # its right half and 10 mm beyond. Seen without what is mirrored is its left half alone.
    linear = (render(CLOTH).grey / 255) ** 2.2
    y, x = np.indices(linear.shape) / CLOTH.px_per_mm

    def box(left: float, right: float) -> np.ndarray:
        reach = np.minimum(np.minimum(x - left, right - x), 6 - np.abs(y - 30))
        return 1 / (1 + np.exp(-reach / 0.3))

    linear = linear * (1 + 0.5 * box(30, 50)) + 0.5 * linear.mean() * box(40, 60)
    tone, swing, cells = maps_of(linear)
    rows, columns = ((np.arange(size) + 0.5) * cells.mm for size in tone.own.shape)

    def outline(left: float, right: float):
        across = (columns > left) & (columns < right)
        within = (np.abs(rows - 30) < 6)[:, None] & across
        return judge(tone, 1, within, (slice(0, len(rows)), slice(0, len(columns))), cells)

    def is_of_it(wider) -> bool:
        return is_pale_beyond(outline(30, 40), wider, tone, swing, cells)

    assert is_of_it(outline(30, 50))
    assert not is_pale_beyond(outline(30, 50), outline(30, 60), tone, swing, cells)
    assert not is_of_it(outline(30, 40))
