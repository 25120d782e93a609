"""What tells a void from a hair, a hump of cloth and a fold, on shapes drawn by hand."""

import cv2
import numpy as np
import pytest

from defectlog.measure.judging import (
    blur_of_strong,
    half_width,
    is_hump,
    is_thin,
    middle_height,
)


def pixels(drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Where the objects' pixels are, the object of each, and areas and perimeters."""
    count, labels = cv2.connectedComponents(drawn, ltype=cv2.CV_32S)
    at = np.flatnonzero(labels)
    label = labels.ravel()[at] - 1
    area = np.bincount(label, minlength=count - 1).astype(float)
    outlines = [
        cv2.findContours((labels == k).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        for k in range(1, count)
    ]
    around = np.array([cv2.arcLength(found[0][0], True) + 3 for found in outlines])
    return at, label, area, around


def test_half_the_width_of_a_disc_is_its_radius_and_of_a_band_half_its_breadth():
    # A disc of radius 8: area 64 π, outline 16 π. A band of 4 by 200: 800, outline 408.
    found = half_width(np.array([64 * np.pi, 800.0]), np.array([16 * np.pi, 408.0]))

    assert found[0] == pytest.approx(8.0)
    assert found[1] == pytest.approx(2.0, rel=0.1)


def test_a_hair_cut_into_pieces_is_thin_and_a_slit_is_not():
    drawn = np.zeros((200, 300), np.uint8)
    for start in range(20, 260, 24):
        cv2.line(drawn, (start, 40), (start + 19, 44), 1, 3)
    cv2.ellipse(drawn, (150, 150), (20, 5), 0, 0, 360, 1, -1)
    at, label, area, around = pixels(drawn)

    thin = is_thin(at, label, drawn.shape, area, around)

    assert thin.tolist() == [True] * 10 + [False]


def test_what_is_soft_and_faint_beside_sharp_strong_voids_is_cloth():
    half = np.full(20, 6.0)
    edge = np.r_[np.full(16, 0.75), np.full(2, 2.0), np.full(2, 0.75)]
    height = np.r_[np.full(16, 0.8), np.full(4, 0.2)]

    hump = is_hump(half, edge, height, 1.0)

    # The last two are faint but as sharp as the rest: another kind of void.
    assert hump.tolist() == [False] * 16 + [True] * 2 + [False] * 2


def test_cloth_among_the_voids_does_not_widen_the_blur():
    # A disc of 8 blurs across has 0.726 of its blur between 65 and 35 % (see blurred.py).
    half = np.full(30, 8.0)
    edge = np.r_[np.full(12, 0.727), np.full(18, 2.5)]
    height = np.r_[np.full(12, 0.8), np.full(18, 0.3)]

    assert blur_of_strong(edge, half, height) == pytest.approx(1.0, rel=0.03)


def test_the_middle_height_is_weighed_by_area():
    assert middle_height(np.array([0.2, 0.8]), np.array([1.0, 3.0])) == 0.8
    assert middle_height(np.zeros(0), np.zeros(0)) == 0.0
