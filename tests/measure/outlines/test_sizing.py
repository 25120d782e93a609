"""Small voids where gaps between tows cross, sized by the surface they lie on."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.outlines import outline
from defectlog.measure.outlines.sizing import Sizes, outlined_objects, sizes_of
from defectlog.measure.outlines.zone import zone_of
from tests.measure.outlines.test_pinholes import blurred_discs

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


def ellipses(turned_deg: float, sigma: float) -> np.ndarray:
    """Sixteen dark ellipses, 24 pixels long and 6 wide, turned alike, each its own bit off grid."""
    rng = np.random.default_rng(9)
    turn = np.radians(turned_deg)
    y, x = (np.mgrid[: 40 * FINE, : 40 * FINE] + 0.5) / FINE - 20
    light = np.ones((160, 160), np.float32)
    for top in range(0, 160, 40):
        for left in range(0, 160, 40):
            v, u = (at - off for at, off in zip((y, x), rng.uniform(-0.5, 0.5, 2), strict=True))
            along = u * np.cos(turn) - v * np.sin(turn)
            aside = u * np.sin(turn) + v * np.cos(turn)
            cover = ((along / 12) ** 2 + (aside / 3) ** 2 <= 1).astype(np.float32)
            cover = cv2.resize(cover, (40, 40), interpolation=cv2.INTER_AREA)
            light[top : top + 40, left : left + 40] -= 0.5 * cover
    return cv2.GaussianBlur(light, (0, 0), sigma)


@pytest.mark.parametrize("turned_deg", [0, 20, 45, 90])
@pytest.mark.parametrize("sigma", [0.7, 1.0])
def test_long_voids_say_how_blurred_a_picture_is_however_they_lie(turned_deg, sigma):
    light = ellipses(turned_deg, sigma)
    zone = zone_of(light < 0.75, light, np.ones(light.shape, bool), sign=1.0)
    mask = outline.outlined(zone, outline.rise_of(zone)).mask

    objects = outlined_objects(
        zone_of(mask, light, np.ones(mask.shape, bool), sign=1.0), mask, np.zeros(0, np.int64)
    )
    sizes = sizes_of(objects, np.ones(len(objects.counted), bool), dark=True)

    assert len(sizes.area) == 16
    # The pixel's own square blurs too, by 1/12 px² each way.
    assert sizes.blur_px == pytest.approx(np.hypot(sigma, np.sqrt(1 / 12)), rel=0.16)
    assert sizes.area.mean() == pytest.approx(np.pi * 12 * 3, rel=0.015)


def sizes_of_discs(light: np.ndarray) -> Sizes:
    whole = np.ones(light.shape, bool)
    seeds = zone_of(light < 0.94, light, whole, sign=1.0)
    mask = outline.outlined(seeds, outline.rise_of(seeds)).mask
    objects = outlined_objects(zone_of(mask, light, whole, sign=1.0), mask, np.zeros(0, np.int64))
    return sizes_of(objects, np.ones(len(objects.counted), bool), dark=True)


def small_among_large(radius: float, softness: tuple[float, float], n: int) -> np.ndarray:
    """Discs of half the light, one of four 8 px in radius; how blurred the small, the large are."""
    small, large = (
        blurred_discs(size, sigma, 0.5, n)
        for size, sigma in zip((radius, 8.0), softness, strict=True)
    )
    is_large = np.arange(n).reshape(int(np.sqrt(n)), -1) % 4 == 0
    return np.where(np.kron(is_large, np.ones((40, 40), bool)), large, small)


# The areas are those drawn: blur, evening out and sharpening by kernels of unit sum leave the sum
# of missing light what it was, so no source beyond that is asked for.
@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_of_a_soft_picture_are_not_as_wide_as_its_blur(radius):
    sizes = sizes_of_discs(small_among_large(radius, (1.9, 1.9), 64))

    assert sizes.area[sizes.area < 100].mean() == pytest.approx(np.pi * radius**2, rel=0.035)


@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_tell_their_own_blur_where_edges_of_large_ones_were_kept_steep(radius):
    sizes = sizes_of_discs(small_among_large(radius, (1.75, 1.6), 196))

    small, true = sizes.area < 100, np.pi * radius**2
    assert sizes.area[small].mean() == pytest.approx(true, rel=0.045)
    assert sizes.unsure_px[small].mean() > 0.06 * true


def test_light_that_blur_takes_beyond_the_surroundings_of_a_void_is_made_up_for():
    sizes = sizes_of_discs(small_among_large(3.5, (3.0, 3.0), 64))

    assert sizes.area[sizes.area < 100].mean() == pytest.approx(np.pi * 3.5**2, rel=0.03)
