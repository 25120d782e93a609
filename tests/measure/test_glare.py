"""What is glare and what is not."""

import cv2
import numpy as np
import pytest

from defectlog.measure.glare import glare_mask
from defectlog.measure.light import FlatField, flat_field, linear_light
from tests.browser.lid import PX_PER_MM, photograph

Y, X = np.mgrid[:480, :640].astype(np.float32)


def stored(light: np.ndarray) -> np.ndarray:
    return np.round(np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)


def field_of(grey: np.ndarray) -> FlatField:
    return flat_field(linear_light(grey), np.ones(grey.shape, bool), cell_px=10, sigma_px=50)


def glint(strength: float) -> np.ndarray:
    return 0.25 * (1 + strength * np.exp(-((X - 400) ** 2 + (Y - 200) ** 2) / (2 * 50.0**2)))


def test_a_soft_glint_is_glare_out_to_its_flanks():
    grey = stored(glint(2.0))

    mask = glare_mask(grey, field_of(grey), px_per_mm=10)

    assert mask[200, 400]
    # Where it still adds half of the surface's own light: 50·√(2 ln 4) = 83 px out.
    assert mask[200, 400 + 80]
    assert not mask[400, 60]


def test_even_light_has_no_glare():
    grey = stored(0.25 + 0.0002 * X)

    assert glare_mask(grey, field_of(grey), px_per_mm=10) is None


def test_a_pale_patch_with_a_sharp_edge_is_none():
    grey = stored(np.where((X - 300) ** 2 + (Y - 240) ** 2 < 70**2, 0.45, 0.25))

    assert glare_mask(grey, field_of(grey), px_per_mm=10) is None


@pytest.mark.parametrize("share", [0.2, 1.0])
def test_what_is_burnt_out_is_glare(share):
    light = np.where(share * 640 > X, 1.0, 0.25)

    grey = stored(light)
    mask = glare_mask(grey, field_of(grey), px_per_mm=10)

    assert mask is not None
    # The margin of a millimetre and a half and the averaging over 2 mm lie beyond the edge, of
    # 64 mm in all.
    assert mask.mean() == pytest.approx(min(share + 2.5 / 64, 1.0), abs=0.03)


def test_a_dry_spot_beside_the_lamp_is_none_though_the_even_light_bends_into_it():
    # The rendered lid: its spot is 34 mm long on a surface that falls off to one side.
    lid = photograph()
    grey = cv2.imdecode(np.frombuffer(lid.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)[80:430, 60:1120]
    field = flat_field(linear_light(grey), np.ones(grey.shape, bool), cell_px=8, sigma_px=40)

    assert glare_mask(grey, field, px_per_mm=PX_PER_MM) is None


def tows() -> np.ndarray:
    """Light tows and dark ones of 2 mm in plain weave, at 10 pixels to the mm."""
    return np.where((X // 20 + Y // 20) % 2 == 0, 0.13, 0.07)


def test_a_wide_glint_on_tows_that_differ_much_is_glare_though_nothing_burns_out():
    # Even light, over 5 mm, follows what is 16 mm wide.
    grey = stored(tows() + 0.6 * np.exp(-((X - 400) ** 2 + (Y - 200) ** 2) / (2 * 70.0**2)))

    mask = glare_mask(grey, field_of(grey), px_per_mm=10)

    assert grey.max() < 230
    assert mask is not None and mask[200, 400]
    assert not mask[400, 60]


def test_tows_that_swing_on_are_none_though_they_are_as_bright():
    grey = stored(tows() * (1 + 6 * np.exp(-((X - 400) ** 2 + (Y - 200) ** 2) / (2 * 70.0**2))))

    assert glare_mask(grey, field_of(grey), px_per_mm=10) is None
