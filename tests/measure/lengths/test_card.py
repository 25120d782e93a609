"""The printed card: where things are on it."""

import itertools

import cv2
import numpy as np
import pytest

from defectlog.measure.lengths.card import CARD_LAYOUTS, marker_cells


@pytest.mark.parametrize(
    ("name", "paper"),
    # ISO 216; 8.5 x 11 in of 25.4 mm; ISO/IEC 7810 ID-1.
    [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4)), ("id1", (85.60, 53.98))],
)
def test_the_paper_has_its_standard_size(name, paper):
    assert CARD_LAYOUTS[name].paper_mm == paper


@pytest.mark.parametrize("layout", CARD_LAYOUTS.values(), ids=CARD_LAYOUTS)
def test_every_marker_keeps_a_quarter_of_its_side_white(layout):
    for marker in layout.markers:
        need = marker.side_mm / 4
        right, low = marker.x_mm + marker.side_mm, marker.y_mm + marker.side_mm

        assert marker.x_mm >= need
        assert marker.y_mm >= need
        assert layout.size_mm[0] - right >= need - 1e-9
        assert layout.size_mm[1] - low >= need


@pytest.mark.parametrize("layout", CARD_LAYOUTS.values(), ids=CARD_LAYOUTS)
def test_markers_of_one_card_stand_clear_of_each_other(layout):
    for one, other in itertools.combinations(layout.markers, 2):
        gap = max(abs(one.x_mm - other.x_mm), abs(one.y_mm - other.y_mm)) - one.side_mm

        assert gap >= one.side_mm / 4


@pytest.mark.parametrize("layout", CARD_LAYOUTS.values(), ids=CARD_LAYOUTS)
def test_the_card_fits_its_paper(layout):
    for start, size, paper in zip(layout.at_mm, layout.size_mm, layout.paper_mm, strict=True):
        assert start >= 0
        assert start + size <= paper


def test_no_marker_is_on_two_cards():
    ids = [marker.id for layout in CARD_LAYOUTS.values() for marker in layout.markers]

    assert len(set(ids)) == len(ids)
    assert all(0 <= marker_id < 50 for marker_id in ids)


def test_the_cells_of_a_marker_are_those_of_the_published_dictionary():
    # OpenCV draws its DICT_4X4_50; blown up, its own finder has to read the number back.
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for marker_id in (10, 23, 30):
        cells = np.where(np.array(marker_cells(marker_id)), 0, 255).astype(np.uint8)
        picture = np.pad(np.kron(cells, np.ones((20, 20), np.uint8)), 40, constant_values=255)

        _, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(picture)

        assert ids.ravel().tolist() == [marker_id]
