"""Sizes of the objects of a mask, against scikit-image and hand counts."""

import math

import numpy as np
import pytest
from scipy import ndimage
from scipy.spatial import ConvexHull
from skimage import data, filters, measure, segmentation

from defectlog.measure.outlines.shapes import shapes_of


def disc(radius: int, size: int = 121) -> np.ndarray:
    y, x = np.mgrid[:size, :size] - size // 2
    return x**2 + y**2 <= radius**2


def coins() -> np.ndarray:
    """The coins of the picture that comes with scikit-image, told apart by its watershed."""
    picture = data.coins()
    markers = np.zeros(picture.shape, int)
    markers[picture < 30] = 1
    markers[picture > 150] = 2
    found = segmentation.watershed(filters.sobel(picture), markers)
    return ndimage.binary_fill_holes(found - 1)


# Digital discs x² + y² <= r²: pixels counted (Gauss's circle problem, OEIS A000328).
@pytest.mark.parametrize(("radius", "pixels"), [(5, 81), (10, 317), (20, 1257), (50, 7845)])
def test_a_disc_counts_its_pixels(radius, pixels):
    found = shapes_of(disc(radius))

    assert found.area.tolist() == [pixels]
    assert found.diameter[0] == pytest.approx(2 * radius, rel=0.02)
    assert found.longest[0] == pytest.approx(2 * radius + 1, abs=0.05)
    assert found.words == ("round",)


def test_corners_join_pixels_or_do_not():
    # 10 x 10, a square of 4 and a pixel at its corner, and one apart: 2 objects or 3.
    mask = np.zeros((10, 10), dtype=bool)
    mask[2:4, 2:4] = mask[4, 4] = mask[7, 7] = True

    assert len(shapes_of(mask).area) == 2
    assert len(shapes_of(mask, corners_join=False).area) == 3
    assert sorted(shapes_of(mask).area) == [1, 5]


def test_the_end_of_a_row_is_not_beside_the_start_of_the_next():
    # 6 wide: the last three pixels of row 1 and the first two of row 2, whose places in the
    # flattened mask follow on each other, are two objects of their own.
    mask = np.zeros((4, 6), dtype=bool)
    mask[1, 3:] = mask[2, :2] = True

    found = shapes_of(mask)
    assert found.area.tolist() == [3, 2]
    assert found.x.tolist() == [4, 0.5]
    assert found.y.tolist() == [1, 2]
    assert found.longest.tolist() == [3, 2]


def test_there_are_24_coins():
    # scikit-image's own segmentation example counts 24 coins once a speck of 2 px is dropped;
    # their areas run from 1077 to 3141 px, 38943 px together.
    found = shapes_of(coins())
    areas = found.area[found.area >= 100]

    assert len(areas) == 24
    assert (areas.min(), areas.max(), areas.sum()) == (1077, 3141, 38943)
    assert all(
        word == "round" for word, area in zip(found.words, found.area, strict=True) if area >= 100
    )


def blobs() -> np.ndarray:
    return data.binary_blobs(length=300, blob_size_fraction=0.08, volume_fraction=0.3, rng=3)


@pytest.mark.parametrize("mask", [coins(), blobs()], ids=["coins", "blobs"])
def test_sizes_agree_with_regionprops(mask):
    found = shapes_of(mask)
    theirs = measure.regionprops(measure.label(mask, connectivity=2))
    mine = {
        round(area * 1e6 + x * 1e3 + y): k
        for k, (area, x, y) in enumerate(zip(found.area, found.x, found.y, strict=True))
    }

    assert len(theirs) == len(found.area)
    for region in theirs:
        row, column = region.centroid
        k = mine[round(region.area * 1e6 + column * 1e3 + row)]
        assert found.area[k] == region.area
        assert found.diameter[k] == pytest.approx(region.equivalent_diameter_area)
        # Ours takes pixels for squares, theirs for points: 16 · 1/12 more in the square.
        assert found.length[k] ** 2 == pytest.approx(region.axis_major_length**2 + 4 / 3)
        assert found.breadth[k] ** 2 == pytest.approx(region.axis_minor_length**2 + 4 / 3)
        # Theirs runs round a hull that takes in whole pixels, and the more of them aslant.
        assert found.longest[k] == pytest.approx(region.feret_diameter_max, abs=1.0)
        # The furthest two pixel centres by trying all pairs, and a pixel: our own meaning.
        edge = region.coords[ConvexHull(region.coords).vertices] if region.area > 9 else None
        if edge is not None:
            pairs = np.hypot(*(edge[:, None] - edge[None]).T)
            assert found.longest[k] == pytest.approx(pairs.max() + 1, rel=0.0013)


@pytest.mark.parametrize("turn", [-60, -20, 0, 35, 80])
def test_direction_is_anticlockwise_from_the_row(turn):
    y, x = np.mgrid[-60:61, -60:61].astype(float)
    angle = math.radians(turn)
    along = x * math.cos(angle) - y * math.sin(angle)
    across = x * math.sin(angle) + y * math.cos(angle)

    found = shapes_of((along / 40) ** 2 + (across / 6) ** 2 <= 1)

    assert found.direction_deg[0] == pytest.approx(turn, abs=0.5)
    assert found.length[0] == pytest.approx(80, rel=0.02)
    assert found.breadth[0] == pytest.approx(12, rel=0.03)
    assert found.words == ("long",)


def test_a_ring_in_part_is_irregular():
    ring = disc(40) & ~disc(32)
    ring[:, :50] = False

    assert shapes_of(ring).words == ("irregular",)


def test_one_row_of_pixels_is_as_long_as_it_is():
    mask = np.zeros((5, 30), dtype=bool)
    mask[2, 4:24] = True

    found = shapes_of(mask)

    assert found.longest.tolist() == [20.0]
    assert found.words == ("long",)


def test_an_empty_mask_has_no_objects():
    found = shapes_of(np.zeros((20, 30), dtype=bool))

    assert len(found.area) == 0
    assert found.words == ()
