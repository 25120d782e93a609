"""Light made linear and even, against light that was drawn."""

import numpy as np
import pytest

from defectlog.measure.arrays.light import (
    even_light,
    flat_field,
    flatten,
    grey_of,
    linear_light,
    to_cells,
)


def uneven(shape=(300, 400)) -> np.ndarray:
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    return (0.3 * (1 + 0.3 * x - 0.15 * y - 0.1 * x * x)).astype(np.float32)


def test_linear_light_is_the_stored_value_to_the_power_of_2_2():
    values = linear_light(np.array([[0, 128, 255]], np.uint8))

    # 128/255 = 0.50196; 0.50196^2.2 = exp(2.2 · ln 0.50196) = 0.21952.
    assert values.ravel().tolist() == pytest.approx([0.0, 0.21952, 1.0], abs=1e-5)


def test_uneven_light_is_flattened_to_one():
    light = uneven()
    inside = np.ones(light.shape, bool)

    ratio = flatten(light, flat_field(light, inside, cell_px=8, sigma_px=40))

    assert np.quantile(np.abs(ratio - 1), 0.99) < 0.006
    assert np.abs(ratio - 1).max() < 0.04


def test_a_large_dark_patch_does_not_pull_the_light_down():
    light = uneven()
    patch = np.zeros(light.shape, bool)
    patch[100:190, 120:260] = True
    seen = np.where(patch, 0.5 * light, light).astype(np.float32)

    ratio = flatten(seen, flat_field(seen, np.ones(light.shape, bool), cell_px=8, sigma_px=40))

    assert np.abs(ratio[~patch] - 1).max() < 0.03
    assert np.abs(ratio[patch] - 0.5).max() < 0.02


def test_what_lies_outside_the_region_has_no_say():
    light = uneven()
    inside = np.ones(light.shape, bool)
    inside[:, 250:] = False
    seen = np.where(inside, light, 0.9).astype(np.float32)

    ratio = flatten(seen, flat_field(seen, inside, cell_px=8, sigma_px=40))

    assert np.abs(ratio[:, :245] - 1).max() < 0.03


def test_slow_light_is_found_by_a_wide_average_of_larger_cells():
    rng = np.random.default_rng(2)
    y, x = np.mgrid[-1:1:180j, -1:1:240j]
    true = np.exp(0.3 * x - 0.2 * y**2 + 0.1 * x * y)
    cells = (true * rng.normal(1, 0.02, true.shape)).astype(np.float32)
    weight = np.ones_like(cells)
    weight[60:90, 100:140] = 0
    cells[60:90, 100:140] = 0

    field = even_light(cells, weight, 1, 25.0)

    assert np.abs(field.light / true - 1).max() < 0.01


def test_cells_of_fewer_rows_are_means_of_them():
    image = np.arange(6 * 8, dtype=np.float32).reshape(6, 8)

    cells = to_cells(image[::2], 4, 2)  # every other row of cells of four by four

    # Rows 0 and 2, columns 0 to 3: (0 + 1 + 2 + 3 + 16 + 17 + 18 + 19) / 8; rows 4 and none.
    assert cells[0, 0] == pytest.approx(9.5)
    assert cells[1, 1] == pytest.approx((36 + 37 + 38 + 39) / 8)


def test_colour_becomes_grey_by_the_usual_weights():
    # ITU-R BT.601: 0.299 R + 0.587 G + 0.114 B.
    red, green, blue = (np.zeros((2, 2, 3), np.uint8) for _ in range(3))
    red[..., 0] = green[..., 1] = blue[..., 2] = 200

    assert [int(grey_of(colour)[0, 0]) for colour in (red, green, blue)] == [60, 117, 23]


@pytest.mark.parametrize(
    "image",
    [np.zeros((4, 4)), np.zeros((4, 4, 2), np.uint8), np.zeros((0, 4), np.uint8)],
)
def test_what_is_no_picture_is_refused(image):
    with pytest.raises(ValueError, match="expected"):
        grey_of(image)
