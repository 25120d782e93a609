"""Light mirrored by the wall of a pore is a part of the pore; the seam of sharpening is not."""

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import FloatImage
from tests.pictures import Surface, render

SIZE_MM = (60, 45)
PORES, RADIUS_MM = 30, 1.0


def pores(light: FloatImage, fine: float, *, glints: bool) -> None:
    """Dark discs, each with a bright arc of 80° that bites into it from the rim, if with glints."""
    rng = np.random.default_rng(5)
    for k in range(PORES):
        column, row = k % 6, k // 6
        x = round((5 + 9.5 * column + rng.uniform(-2, 2)) * fine)
        y = round((5 + 8.5 * row + rng.uniform(-2, 2)) * fine)
        cv2.circle(light, (x, y), round(RADIUS_MM * fine), 0.4, -1)
        if glints:
            axes = (round(0.8 * RADIUS_MM * fine),) * 2
            start = rng.uniform(0, 360)
            cv2.ellipse(light, (x, y), axes, 0, start, start + 80, 1.8, round(0.2 * fine))


@pytest.mark.parametrize("glints", [False, True])
def test_a_glint_at_the_rim_is_a_part_of_its_pore(glints):
    def drawn(light: FloatImage, fine: float) -> None:
        pores(light, fine, glints=glints)

    picture = render(Surface(size_mm=SIZE_MM, fraction=0.0, extra=drawn))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    # Discs of 1 mm; the glints, 0.2 by 1.1 mm, are 7 % of them and touch the rim.
    assert found.count == PORES
    truth = PORES * np.pi * RADIUS_MM**2 / (60 * 45)
    assert found.void_fraction == pytest.approx(truth, rel=0.04)


def test_the_bright_seam_about_a_sharpened_void_is_not_counted():
    def drawn(light: FloatImage, fine: float) -> None:
        pores(light, fine, glints=False)

    grey = render(Surface(size_mm=SIZE_MM, fraction=0.0, extra=drawn)).grey
    blurred = cv2.GaussianBlur(grey, (0, 0), 2.0)
    sharpened = cv2.addWeighted(grey, 2.5, blurred, -1.5, 0)

    plain, found = (measure_voids(one, px_per_mm=12) for one in (grey, sharpened))

    assert sharpened.max() > grey.max() + 10
    assert found.void_fraction == pytest.approx(plain.void_fraction, rel=0.03)
