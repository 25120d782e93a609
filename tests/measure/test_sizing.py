"""Small voids where gaps between tows cross, sized by the surface they lie on."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids

SIDE, PITCH, FINE = 600, 20, 8
SMALL, MIDDLING, LARGE = 1.8, 5.5, 7.0  # radii of discs, px; the large ones show the blur


def crossings() -> list[tuple[int, int]]:
    rng = np.random.default_rng(5)
    cells = np.stack(np.meshgrid(*[np.arange(1, SIDE // PITCH - 1)] * 2), -1).reshape(-1, 2)
    return [tuple((PITCH * (cell + 0.5)).astype(int)) for cell in rng.choice(cells, 60, False)]


def disc(radius: float, y: float, x: float) -> np.ndarray:
    """The share of each pixel of a square of ``PITCH`` that a disc so far off its middle covers."""
    at = (np.arange(PITCH * FINE) + 0.5) / FINE - PITCH / 2
    inside = (np.hypot(at[:, None] - y, at - x) <= radius).astype(np.float32)
    return cv2.resize(inside, (PITCH, PITCH), interpolation=cv2.INTER_AREA)


def photo(gap: float, radius: float) -> np.ndarray:
    """Cloth whose gaps lack such a share of the light of tows, with discs where some cross."""
    rng, at = np.random.default_rng(6), np.arange(SIDE) + 0.5
    in_gap = np.abs(at % PITCH - PITCH / 2) < 1.5
    light = np.where(in_gap[:, None] | in_gap, 1 - gap, 1.0)
    for k, (row, column) in enumerate(crossings()):
        window = (
            slice(row - PITCH // 2, row + PITCH // 2),
            slice(column - PITCH // 2, column + PITCH // 2),
        )
        cover = disc(LARGE if k % 4 == 0 else radius, *rng.uniform(-0.5, 0.5, 2))
        light[window] += cover * (0.45 - light[window])
    light = 0.35 * cv2.GaussianBlur(light, (0, 0), 0.9)
    light += rng.normal(0, 0.008, light.shape)
    return np.round(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)


@pytest.mark.parametrize(("radius", "within"), [(SMALL, 0.15), (MIDDLING, 0.008)])
@pytest.mark.parametrize("gap", [0.0, 0.07, 0.1])
def test_a_void_where_dark_gaps_cross_is_no_larger_for_them(gap, radius, within):
    found = measure_voids(photo(gap, radius), px_per_mm=16)

    area = {at: 0.0 for k, at in enumerate(crossings()) if k % 4 > 0}
    for void in found.voids:
        row, column = (int(n // PITCH * PITCH + PITCH / 2) for n in (void.y, void.x))
        if (row, column) in area:
            area[row, column] += void.area_px
    assert np.mean(list(area.values())) == pytest.approx(np.pi * radius**2, rel=within)
