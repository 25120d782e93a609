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
SPECK_PX = 8  # is noise
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


def small_discs_sizes(light: np.ndarray) -> tuple[Sizes, np.ndarray]:
    """The sizes of what is dark, and which of it are the small discs."""
    whole = np.ones(light.shape, bool)
    seeds = zone_of(light < 0.92, light, whole, sign=1.0)
    mask = outline.outlined(seeds, outline.rise_of(seeds)).mask
    objects = outlined_objects(zone_of(mask, light, whole, sign=1.0), mask, np.zeros(0, np.int64))
    sizes = sizes_of(objects, objects.counted > SPECK_PX, dark=True)
    return sizes, (objects.counted > SPECK_PX) & (sizes.area < 100)


def small_among_large(
    radius: float, sigma: float, n: int = 100, contrast: float = 0.5
) -> np.ndarray:
    """Discs of which one of four is 8 px in radius, blurred alike."""
    small, large = (blurred_discs(size, sigma, contrast, n) for size in (radius, 8.0))
    is_large = np.arange(n).reshape(int(np.sqrt(n)), -1) % 4 == 0
    return np.where(np.kron(is_large, np.ones((40, 40), bool)), large, small)


def taken(light: np.ndarray, *, noise: float, even: float, amount: float) -> np.ndarray:
    """That light as a camera gives it: noise evened out but for edges, then sharpened."""
    value = (0.35 * light) ** (1 / 2.2)
    value += np.random.default_rng(2).normal(0, noise, value.shape)
    value = value.astype(np.float32)
    if even:
        value = cv2.bilateralFilter(value, 5, even, 1.5)
    # An unsharp mask: what differs from the values round it is made to differ by so much more.
    value += amount * (value - cv2.GaussianBlur(value, (0, 0), 1.8))
    return value**2.2 / 0.35


# The areas are those drawn. Blurring and sharpening by kernels of unit sum leave the sum of what is
# missing as it was, so that no source is asked for beyond that.
@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_of_a_soft_picture_are_not_as_wide_as_its_blur(radius):
    sizes, small = small_discs_sizes(small_among_large(radius, 1.9, n=36))

    assert sizes.area[small].mean() == pytest.approx(np.pi * radius**2, rel=0.05)


@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_tell_their_own_blur_where_noise_was_evened_out(radius):
    light = taken(small_among_large(radius, 1.6), noise=0.004, even=0.05, amount=0.0)

    sizes, small = small_discs_sizes(light)

    true = np.pi * radius**2
    assert sizes.area[small].mean() == pytest.approx(true, rel=0.04)
    # That they do, and large ones do not, leaves doubt.
    assert sizes.unsure_px[small].mean() > 0.06 * true


@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_of_a_soft_picture_are_as_large_when_it_is_sharpened(radius):
    light = small_among_large(radius, 1.6, contrast=0.3)

    sizes, small = small_discs_sizes(taken(light, noise=0.0, even=0.0, amount=0.6))

    true = np.pi * radius**2
    assert sizes.area[small].mean() == pytest.approx(true, rel=0.03)
    # Nobody knows how wide the mask was.
    assert sizes.unsure_px[small].mean() > 2 * sizes.seam * true > 0.01 * true


@pytest.mark.parametrize("radius", [1.6, 2.0, 2.4])
def test_small_voids_of_a_photo_evened_out_and_sharpened_are_hardly_larger(radius):
    light = taken(small_among_large(radius, 2.0), noise=0.004, even=0.03, amount=1.0)

    sizes, small = small_discs_sizes(light)

    assert sizes.area[small].mean() == pytest.approx(np.pi * radius**2, rel=0.06)


def test_light_that_blur_takes_beyond_the_surroundings_of_a_void_is_made_up_for():
    sizes, small = small_discs_sizes(small_among_large(3.5, 3.0, n=64))

    assert sizes.area[small].mean() == pytest.approx(np.pi * 3.5**2, rel=0.06)
