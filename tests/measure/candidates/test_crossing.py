"""Hairs that run from void to void."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import FloatImage
from defectlog.measure.outlines import judging
from tests.pictures import Surface, render

CLOTH = Surface(size_mm=(60, 45), fraction=0.08, contrast=0.6, elongation=1.5)


def hair(light: FloatImage, fine: float) -> None:
    """A bent line of 0.2 mm from side to side."""
    rows, columns = light.shape
    x = np.arange(0, columns, 4)
    y = rows / 2 + 0.3 * rows * np.sin(x / columns * 6)
    path = np.column_stack([x, y]).astype(np.int32)
    drawn = np.zeros(light.shape, np.uint8)
    cv2.polylines(drawn, [path], False, 1, round(0.2 * fine))
    light *= np.where(drawn > 0, np.float32(0.4), np.float32(1))


@pytest.mark.parametrize("seed", [2, 5])
def test_of_a_hair_that_crosses_voids_these_are_counted_and_it_is_not(seed):
    clear = replace(CLOTH, seed=seed)

    without, found = (
        measure_voids(picture.grey, px_per_mm=picture.px_per_mm)
        for picture in (render(clear), render(replace(clear, extra=hair)))
    )

    # 80 by 0.2 mm are 0.6 % of the surface, of which 8 % lie over voids. What is as narrow as it
    # and touches it may be lost.
    assert found.void_fraction == pytest.approx(without.void_fraction, abs=0.0012)
    assert found.count == pytest.approx(without.count, abs=0.05 * without.count)
    assert any(one.why == judging.THIN for one in found.rejected)


def test_the_fringes_of_a_patch_are_no_strokes():
    def comb(light: FloatImage, fine: float) -> None:
        """A patch of 8 by 6 mm with tows of 0.3 mm that reach 2.5 mm beyond it."""
        light[round(20 * fine) : round(26 * fine), round(20 * fine) : round(28 * fine)] = 0.5
        for k in range(6):
            top = round((20.3 + k) * fine)
            light[top : top + round(0.3 * fine), round(28 * fine) : round(30.5 * fine)] = 0.5

    picture = render(replace(CLOTH, fraction=0.0, extra=comb))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    # 48 mm² and six times 0.75, of 2700.
    assert found.void_fraction == pytest.approx(52.5 / 2700, rel=0.02)
