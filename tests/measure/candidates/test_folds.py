"""Voids on a fold, drawn with known places."""

from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure import measure_voids
from defectlog.measure.candidates.folds import voids_on_folds
from defectlog.measure.cloth.surface import prepare
from tests.pictures import CASES, render

ROWS, COLUMNS = 400, 600
Y, X = np.mgrid[:ROWS, :COLUMNS].astype(np.float32)
DOTS = [(120, 200), (300, 200), (480, 200)]


def folded() -> np.ndarray:
    """A dark fold 6 mm wide at 10 px/mm, with three dots of 0.8 mm on it that halve the light."""
    light = 0.3 * (1 - 0.3 * np.exp(-((Y - 200) ** 2) / (2 * 25.0**2)))
    for x, y in DOTS:
        light = np.where((X - x) ** 2 + (Y - y) ** 2 < 4**2, 0.5 * light, light)
    light += np.random.default_rng(2).normal(0, 0.004, light.shape)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.8)
    return np.round(255 * light ** (1 / 2.2)).astype(np.uint8)


def test_dots_on_a_fold_are_told_from_it_and_nothing_else_is():
    grey = folded()
    surface = prepare(grey, np.ones(grey.shape, bool), 10.0)
    fold = np.flatnonzero(np.abs(Y - 200) < 30)

    seeds = voids_on_folds(surface, fold, sign=1.0, height=0.5)

    count, _, stats, middles = cv2.connectedComponentsWithStats(seeds.view(np.uint8))
    assert count - 1 == len(DOTS)
    assert np.abs(np.array(sorted(middles[1:].tolist())) - DOTS).max() < 1
    # π 4² = 50 px each, seen through a blur of 0.8 px and found beyond half of the contrast.
    assert ((stats[1:, cv2.CC_STAT_AREA] > 35) & (stats[1:, cv2.CC_STAT_AREA] < 60)).all()


def test_nothing_is_looked_for_without_voids_elsewhere_or_with_hardly_any_fold():
    grey = folded()
    surface = prepare(grey, np.ones(grey.shape, bool), 10.0)
    fold = np.flatnonzero(np.abs(Y - 200) < 30)

    assert voids_on_folds(surface, fold, sign=1.0, height=0.0) is None
    assert voids_on_folds(surface, fold[:300], sign=1.0, height=0.5) is None


def test_voids_on_the_flanks_of_folds_are_found_as_those_beside_them_are():
    picture = render(replace(CASES["wrinkles"], seed=31_034))

    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)

    hit = [
        found.voids_mask[round(v.y) - 1 : round(v.y) + 2, round(v.x) - 1 : round(v.x) + 2].any()
        for v in picture.voids
        if v.diameter >= 4
    ]
    assert np.mean(hit) > 0.97
