"""What tells a void from a hair, a hump of cloth and a fold, on shapes drawn by hand."""

import cv2
import numpy as np
import pytest

from defectlog.measure.candidates.faint import is_hump, owes_to_surface
from defectlog.measure.outlines.judging import (
    half_width,
    is_frayed_round,
    is_thin,
    lie_on_folds,
    middle_height,
)
from defectlog.measure.outlines.outline import Rise, perimeters
from defectlog.measure.outlines.pinholes import blur_of_strong
from defectlog.measure.outlines.shapes import shapes_of


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


def test_a_hair_goes_on_where_it_was_lost_for_a_little_and_a_void_beside_it_is_none_of_it():
    drawn = np.zeros((200, 400), np.uint8)
    cv2.line(drawn, (20, 60), (110, 60), 1, 3)
    cv2.line(drawn, (134, 61), (147, 61), 1, 2)
    cv2.circle(drawn, (90, 75), 4, 1, -1)
    # As long and thin as the piece, but far from any hair: a void along a tow.
    cv2.line(drawn, (300, 150), (313, 150), 1, 2)
    at, label, area, around = pixels(drawn)

    thin = is_thin(at, label, drawn.shape, area, around)

    assert thin.tolist() == [True, True, False, False]


def test_a_disc_frayed_by_noise_is_no_hair_and_a_curled_hair_is_one():
    drawn = np.zeros((120, 260))
    for x in range(20, 120, 18):
        cv2.circle(drawn, (x, 40), 6, 1.0, -1)
    cv2.ellipse(drawn, (180, 60), (22, 22), 0, 0, 270, 1.0, 2)
    # Noise half as strong as the voids, and hardly smoothed.
    noise = cv2.GaussianBlur(np.random.default_rng(6).normal(0, 1, drawn.shape), (0, 0), 0.5)
    light = cv2.GaussianBlur(drawn, (0, 0), 0.8) + 0.5 * noise / noise.std()
    near = cv2.dilate(drawn.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    mask = (light > 0.5) & near
    shapes = shapes_of(mask)
    around = perimeters(mask, shapes.at, shapes.label, len(shapes.area))
    discs = (shapes.x < 130) & (shapes.area > 50)
    hair = (shapes.x > 130) & (shapes.area > 50)
    frayed = is_frayed_round(shapes.area, shapes.length, shapes.breadth)

    by_outline = is_thin(shapes.at, shapes.label, mask.shape, shapes.area, around)
    thin = is_thin(shapes.at, shapes.label, mask.shape, shapes.area, around, frayed)

    assert np.count_nonzero(discs) == 6 and hair.any()
    assert by_outline[discs].any()
    assert not thin[discs].any() and thin[hair].all()


def test_what_is_soft_and_faint_beside_sharp_strong_voids_is_cloth():
    half = np.full(20, 6.0)
    edge = np.r_[np.full(16, 0.75), np.full(2, 2.0), np.full(2, 0.75)]
    height = np.r_[np.full(16, 0.8), np.full(4, 0.2)]

    hump = is_hump(half, edge, height, np.zeros(20), 1.0, 0.05)

    # The last two are faint but as sharp as the rest: another kind of void.
    assert hump.tolist() == [False] * 16 + [True] * 2 + [False] * 2


@pytest.mark.parametrize(("reach", "is_cloth"), [(0.05, False), (0.15, True)])
def test_what_is_a_quarter_as_strong_as_voids_is_cloth_if_the_cloth_goes_as_far(reach, is_cloth):
    # Sharp, all of them. The surface by itself goes a twentieth the other way: 0.2 is far beyond
    # twice that. If it goes 0.15, 0.2 is no more than light tows are.
    height = np.r_[np.full(16, 0.8), np.full(4, 0.2)]

    hump = is_hump(np.full(20, 6.0), np.full(20, 0.75), height, np.zeros(20), 1.0, reach)

    assert hump.tolist() == [False] * 16 + [is_cloth] * 4


@pytest.mark.parametrize(
    ("half_px", "height", "reach", "is_cloth"),
    [
        (3.0, 0.45, 0.1, False),
        (3.0, 0.45, 0.2, True),
        (6.0, 0.45, 0.1, True),
        (3.0, 0.3, 0.05, True),
    ],
)
def test_a_small_void_that_a_bright_tow_widens_is_none_the_softer(half_px, height, reach, is_cloth):
    # Soft, and half as strong as the voids. Small and more than thrice as far off as the surface
    # goes by itself, it is a void; a larger one, a fainter one or weaker than that is cloth.
    half = np.r_[np.full(16, 6.0), half_px]
    edge = np.r_[np.full(16, 0.75), 2.0]

    hump = is_hump(half, edge, np.r_[np.full(16, 0.8), height], np.zeros(17), 1.0, reach)

    assert hump.tolist() == [False] * 16 + [is_cloth]


def test_a_void_on_a_dark_tow_is_no_fainter_than_one_on_a_bright_tow():
    # Black takes 1.2 of the light of a bright tow and 0.7 of a dark one; and 0.3 is cloth.
    half, edge = np.full(20, 6.0), np.r_[np.full(8, 0.75), np.full(12, 1.2)]
    height = np.r_[np.full(12, 1.2), np.full(6, 0.7), np.full(2, 0.3)]
    around = np.r_[np.full(12, -0.25), np.full(6, 0.25), np.zeros(2)]

    hump = is_hump(half, edge, height, around, 1.0, 0.1)

    assert hump.tolist() == [False] * 18 + [True] * 2


@pytest.mark.parametrize(("height", "is_cloth"), [(0.2, False), (0.38, True), (0.5, False)])
def test_a_patch_larger_than_tows_is_no_hump_though_its_fringes_are_soft(height, is_cloth):
    # Half as strong as the voids and twice as soft, which a light tow is as well; of what is larger
    # only what is fainter still. What hardly counts is sharp here, as the voids are.
    half = np.full(17, 8.0)
    edge = np.r_[np.full(16, 0.75), 1.5 if height > 0.3 else 0.75]
    height = np.r_[np.full(16, 0.9), height]
    large = np.arange(17) == 16

    hump = is_hump(half, edge, height, np.zeros(17), 1.0, 0.05, large)

    assert hump.tolist() == [False] * 16 + [is_cloth]
    assert height[16] < 0.3 or is_hump(half, edge, height, np.zeros(17), 1.0, 0.05)[16]


def test_what_is_only_as_far_off_as_asked_with_the_surface_it_lies_on_is_no_void():
    # 0.1 on a surface that is off by 0.05 itself reaches 0.15. A small one may be that faint for
    # its blur.
    height, half = np.array([0.1, 0.1, 0.14]), np.array([6.0, 2.0, 6.0])

    assert owes_to_surface(height, half, 1.0, 0.15).tolist() == [True, False, False]


@pytest.mark.parametrize(
    ("stronger", "half_px", "is_cloth"), [(12, 6.0, False), (5, 6.0, True), (12, 9.0, True)]
)
def test_the_weak_of_voids_of_many_strengths_are_no_cloth(stronger, half_px, is_cloth):
    # Eight are soft, and 0.3 of the typical. They are the tail of the voids if of the next in
    # strength there are more; not if there are fewer, or these cover less than what is soft.
    height = np.r_[np.full(40, 0.8), np.full(stronger, 0.4), np.full(8, 0.25)]
    edge = np.r_[np.full(40 + stronger, 0.75), np.full(8, 1.6)]
    half = np.r_[np.full(40 + stronger, 6.0), np.full(8, half_px)]
    others = (half, edge, height, np.zeros(len(height)), 1.0, 0.05)

    hump = is_hump(*others, rest=np.ones(len(height), bool))

    assert hump.tolist() == [False] * (40 + stronger) + [is_cloth] * 8
    # Strokes of a hair of that strength, which is known for what it is, tell nothing of voids.
    assert is_hump(*others, rest=height != 0.4)[-8:].all()


@pytest.mark.parametrize(("around", "folded"), [((0.3, 0.3, 0.3), True), ((0.3, -0.3, 0), False)])
def test_what_lies_only_where_the_surface_goes_that_way_is_of_a_fold(around, folded):
    rise = Rise(
        share=np.zeros(0, np.float32),
        height=np.full(3, 0.3),
        around=np.array(around),
        areas=np.full((3, 3), 300.0),
        zone_px=np.full(3, 300.0),
    )

    # Away from voids the surface goes by a fifth: 0.3 is more, and as much as they stand out by.
    assert lie_on_folds(rise, np.full(3, 300.0), reach=0.2) == folded


def test_nothing_lies_on_no_fold():
    nothing = np.zeros(0)
    rise = Rise(nothing.astype(np.float32), nothing, nothing, np.zeros((0, 3)), nothing)

    assert not lie_on_folds(rise, nothing, reach=0.2)


def test_cloth_among_the_voids_does_not_widen_the_blur():
    # A disc of 8 blurs across has 0.726 of its blur between 65 and 35 % (see blurred.py).
    half = np.full(30, 8.0)
    edge = np.r_[np.full(12, 0.727), np.full(18, 2.5)]
    height = np.r_[np.full(12, 0.8), np.full(18, 0.3)]

    assert blur_of_strong(edge, half, height) == pytest.approx(1.0, rel=0.03)


def test_the_middle_height_is_weighed_by_area():
    assert middle_height(np.array([0.2, 0.8]), np.array([1.0, 3.0])) == 0.8
    assert middle_height(np.zeros(0), np.zeros(0)) == 0.0
