"""The picture over the photo: voids coloured, what could not be judged hatched, the rest told."""

import io

import numpy as np
import pytest
from PIL import Image

from defectlog.bench.overlay import mask_to_png, overlay_png
from defectlog.records import Measurement, Photo, PhotoScale

WIDTH, HEIGHT = 300, 200
REGION = [[50, 20], [249, 20], [249, 179], [50, 179]]
CARD = [[60, 30], [99, 30], [99, 59], [60, 59]]


@pytest.fixture
def laid() -> np.ndarray:
    """Red, green, blue, opacity of an overlay with glare, a card, a region and one void."""
    voids, inspected = np.zeros((2, HEIGHT, WIDTH), dtype=bool)
    inspected[20:180, 50:250] = True
    inspected[25:65, 55:105] = False  # the card and its shadow's width
    inspected[100:150, 150:230] = False  # glare
    voids[80:90, 120:130] = True
    row = Measurement(
        photo=Photo(width_px=WIDTH, height_px=HEIGHT),
        scale=PhotoScale(source="card", px_per_mm=5.0, card_outlines=[CARD], warnings=[]),
        region=REGION,
        settings={},
        voids_png=mask_to_png(voids),
        inspected_png=mask_to_png(inspected),
    )
    with Image.open(io.BytesIO(overlay_png(row, (WIDTH, HEIGHT)))) as picture:
        return np.asarray(picture.convert("RGBA"))


def colours(part: np.ndarray) -> set[tuple[int, ...]]:
    return {tuple(int(v) for v in colour) for colour in part.reshape(-1, 4)}


def test_glare_is_hatched_in_two_tones(laid):
    glare = laid[105:145, 155:225]

    dark, light = sorted(colours(glare))
    assert light[:3] == (255, 255, 255) and sum(dark[:3]) < 100
    # About half of each, and neither runs along a row or a column.
    share = (glare[..., 0] == 255).mean()
    assert share == pytest.approx(0.5, abs=0.15)
    assert len(colours(glare[10])) == len(colours(glare[:, 10])) == 2


def test_beside_the_region_and_under_the_card_it_is_plain(laid):
    beside, card = colours(laid[:15]), colours(laid[35:55, 65:95])

    assert beside == card and len(beside) == 1
    assert beside.pop()[3] > 0


def test_sound_surface_is_clear_and_the_void_is_not(laid):
    assert colours(laid[70:78, 60:240]) == {(0, 0, 0, 0)}
    assert colours(laid[80:90, 120:130]) == {(226, 74, 140, 190)}


def test_seen_from_far_away_no_void_vanishes():
    # The least pinholes, 2 x 2 px; 48 x 48 px become one, and two of them lie across its corners.
    voids, inspected = np.zeros((912, 1200), bool), np.ones((912, 1200), bool)
    for x, y in ((47, 47), (300, 500), (671, 383), (1198, 910)):
        voids[y : y + 2, x : x + 2] = True
    row = Measurement(
        photo=Photo(width_px=1200, height_px=912),
        settings={},
        voids_png=mask_to_png(voids),
        inspected_png=mask_to_png(inspected),
    )

    with Image.open(io.BytesIO(overlay_png(row, (25, 19)))) as picture:
        counted = np.asarray(picture.convert("RGBA"))[..., 0] == 226

    corners = {(0, 0), (0, 1), (1, 0), (1, 1)}
    others = {(10, 6), (18, 24), (7, 13), (7, 14), (8, 13), (8, 14)}
    assert {tuple(map(int, cell)) for cell in np.argwhere(counted)} == corners | others
