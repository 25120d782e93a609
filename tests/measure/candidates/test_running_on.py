"""Hairs and gaps that are beyond the threshold only here and there."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import FloatImage
from tests.pictures import Surface, render

SIZE_MM = (60, 45)


def hair(light: FloatImage, fine: float) -> None:
    """A thin line across that fades and comes back, as a hair does that lies on and off."""
    rows, columns = light.shape
    x = np.arange(0, columns)
    y = rows / 2 + 0.2 * rows * np.sin(x / columns * 5)
    strength = 0.26 + 0.08 * np.sin(x / (1.2 * fine))
    drawn = np.zeros_like(light)
    for k in range(0, columns - 3, 3):
        ends = [(int(x[j]), int(y[j])) for j in (k, k + 3)]
        cv2.line(drawn, *ends, float(strength[k]), max(1, round(0.15 * fine)))
    light *= 1 - drawn


@pytest.mark.parametrize("seed", [1, 3])
def test_a_hair_that_fades_in_and_out_is_not_counted_in_pieces(seed):
    with_voids = Surface(size_mm=SIZE_MM, fraction=0.01, seed=seed)

    without, found = (
        measure_voids(picture.grey, px_per_mm=picture.px_per_mm)
        for picture in (render(with_voids), render(replace(with_voids, extra=hair)))
    )

    # A hair of 70 by 0.15 mm is 0.4 % of the surface; its pieces alone would be 0.1 %.
    assert found.void_fraction == pytest.approx(without.void_fraction, abs=0.0006)
    assert any("runs on" in one.why for one in found.rejected)


def test_long_voids_in_a_row_are_no_line():
    places = 2 + np.cumsum(np.random.default_rng(3).uniform(1.2, 2.2, 30))

    def row(light: FloatImage, fine: float) -> None:
        for place in places:
            at = round(place * fine), round((10 + 0.3 * place) * fine)
            cv2.ellipse(light, at, (round(0.4 * fine), round(0.2 * fine)), 17, 0, 360, 0.5, -1)

    picture = render(Surface(size_mm=SIZE_MM, fraction=0.0, extra=row))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    # Ellipses of 0.8 by 0.4 mm, each pointing at the next, 0.4 to 1.4 mm further on.
    assert found.count == 30
