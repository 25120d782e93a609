"""Rendered photos: their truth is counted by hand, and the same spec gives the same bytes."""

import io
from dataclasses import replace
from datetime import datetime
from math import pi

import cv2
import numpy as np
import pytest
from PIL import Image

from defectlog.demo.camera import as_jpeg, look
from defectlog.demo.spec import (
    Camera,
    DrySpot,
    LaidCard,
    PhotoSpec,
    Pinholes,
    Side,
    Surface,
    TornPly,
)
from defectlog.demo.surfaces import render
from defectlog.demo.weave import Cloth
from defectlog.measure import find_card

SMALL = Camera(6.0, width_px=960, height_px=720)
SQUARE_ON = PhotoSpec(
    outline_mm=((-60.0, -45.0), (60.0, -45.0), (60.0, 45.0), (-60.0, 45.0)),
    surface=Surface(Cloth.GLASS_PLAIN, Side.TOOL, 1.6),
    camera=SMALL,
    seed=5,
)


def test_the_same_spec_gives_the_same_picture_twice():
    spec = replace(SQUARE_ON, defects=(Pinholes(20, 1.0), TornPly((-40, 0), (0, 10), 12)))

    first, _ = render(spec)
    second, _ = render(spec)
    other, _ = render(replace(spec, seed=6))

    assert np.array_equal(first, second)
    assert not np.array_equal(first, other)


def test_a_sound_surface_has_no_void():
    _, truth = render(SQUARE_ON)

    assert truth.void_fraction() == 0
    assert truth.void_cover.max() == 0


def test_the_void_share_is_that_of_discs_on_a_rectangle():
    # Discs of 1.5 mm on 120 mm x 90 mm, as many as lie in the clear. The rim wavers as
    # 1 + 0.10 cos + 0.06 cos, which adds (0.10² + 0.06²) / 2 = 0.7 % of area; the sizes are
    # log-normal with 0.32, which adds exp(2 · 0.32²) - 1 = 22.7 % in the mean, give or take
    # 0.65 · 1.227 / sqrt(40) = 13 % for a disc's area, of which three are allowed.
    _, truth = render(replace(SQUARE_ON, defects=(Pinholes(40, 1.5),)))

    found, _ = cv2.connectedComponents((truth.void_cover > 0).astype(np.uint8))
    assert 30 <= found - 1 <= 40
    discs = (found - 1) * pi / 4 * 1.5**2 * 1.007 * 1.227 / (120 * 90)
    assert truth.void_fraction() == pytest.approx(discs, rel=0.39)


def test_a_close_up_shows_the_same_pits_as_the_whole_face():
    spec = replace(SQUARE_ON, defects=(Pinholes(25, 1.5),))
    nearer = replace(SMALL, px_per_mm=9.0, look_at_mm=(8.0, 4.0))

    _, whole = render(spec)
    _, close = render(replace(spec, camera=nearer, seed=9))

    middles = []
    for truth, camera in ((whole, SMALL), (close, nearer)):
        _, _, _, at = cv2.connectedComponentsWithStats((truth.void_cover > 127).astype(np.uint8))
        to_mm = np.linalg.inv(look(camera).to_px)
        middles.append(cv2.perspectiveTransform(at[1:].reshape(-1, 1, 2), to_mm)[:, 0])
    assert len(middles[1]) > 10
    apart = np.linalg.norm(middles[1][:, None] - middles[0][None], axis=2).min(1)
    assert np.median(apart) < 0.1  # mm


def test_void_under_a_card_is_neither_drawn_nor_counted():
    card = LaidCard("id1", (0.0, 0.0), 10.0)
    _, truth = render(replace(SQUARE_ON, defects=(Pinholes(60, 1.0),), card=card))

    under = np.zeros(truth.void_cover.shape, np.uint8)
    cv2.fillPoly(under, [np.round(truth.card_px).astype(np.int32)], 1)
    assert not truth.void_cover[under.astype(bool)].any()


def test_the_card_of_a_tilted_photo_gives_the_scale_it_was_rendered_at():
    camera = Camera(8.0, tilt_x_deg=4, tilt_y_deg=-3, turn_deg=7, width_px=1600, height_px=1200)
    spec = replace(SQUARE_ON, camera=camera, card=LaidCard("id1", (10.0, 8.0), -12.0))

    picture, truth = render(spec)
    scale = find_card(picture)

    assert scale is not None
    # 0.3 %: the least to ask of a card of four markers under 15 degrees of tilt.
    assert scale.px_per_mm == pytest.approx(truth.px_per_mm, rel=0.003)


def test_a_camera_square_on_maps_millimetres_to_pixels_evenly():
    view = look(SMALL)

    left, right = view.points_px(((-50, 0), (50, 0)))
    assert right[0] - left[0] == pytest.approx(100 * 6.0)
    assert left[1] == pytest.approx((720 - 1) / 2)


def test_a_dry_spot_is_pale_void_where_it_was_put():
    picture, truth = render(replace(SQUARE_ON, defects=(DrySpot((-20, 0), (30, 20)),)))

    inside = truth.void_cover == 255
    rows, columns = np.nonzero(inside)
    middle = look(SMALL).point_px((-20, 0))
    assert abs(columns.mean() - middle[0]) < 8 * 6
    assert abs(rows.mean() - middle[1]) < 8 * 6
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    assert grey[inside].mean() > grey[300:420, 600:800].mean() + 20
    (drawn,) = truth.defects
    assert drawn.kind == "dry-spot"


def test_the_file_says_when_it_was_taken_and_not_where():
    picture = np.full((40, 60, 3), 90, np.uint8)

    image = Image.open(io.BytesIO(as_jpeg(picture, datetime(2024, 3, 9, 10, 30))))
    exif = image.getexif()

    assert exif.get_ifd(0x8769)[0x9003] == "2024:03:09 10:30:00"
    assert not exif.get_ifd(0x8825)
