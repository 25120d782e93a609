"""Marks a measurement suggests, on masks that were drawn."""

import cv2
import numpy as np
import pytest

from defectlog.bench.findings import add_mark, delete_mark
from defectlog.bench.overlay import mask_to_png
from defectlog.bench.suggestions import suggestions
from defectlog.measure.figures.summary import CUT_BY_EDGE
from defectlog.records import Face, Shape
from tests.builders import NOON, make_build, make_photo
from tests.measured import add_measurement

HOLES = [(60 + 12 * i, 60 + 9 * (i % 4)) for i in range(9)]
PATCH = (290, 200, 45, 30)  # centre and half axes


@pytest.fixture
def photo(session):
    return make_photo(session, make_build(session), px_per_mm=5.0)


@pytest.fixture
def measured(session, photo):
    return add_patch_and_pinholes(session, photo)


def add_patch_and_pinholes(session, photo, **more):
    """A dry patch and nine pinholes on a photo of 400 × 300 px at 5 px/mm."""
    mask = np.zeros((300, 400), np.uint8)
    x, y, across, down = PATCH
    cv2.ellipse(mask, (x, y), (across, down), 0, 0, 360, 1, -1)
    for place in HOLES:
        cv2.circle(mask, place, 2, 1, -1)
    png = mask_to_png(mask > 0)
    return add_measurement(session, photo, 0.03, voids_png=png, inspected_png=png, **more)


def accept(session, photo, one):
    return add_mark(
        session,
        photo.id,
        Shape(one.shape),
        one.points,
        kind=one.kind,
        client_id=one.client_id,
        at=NOON,
    )


def test_patch_and_pinholes_are_suggested_with_their_kind_and_size(session, photo, measured):
    patch, holes = suggestions(session, measured)

    assert (patch.kind, patch.shape) == ("dry-spot", "outline")
    # 90 px across at 5 px/mm.
    assert patch.words.startswith("18")
    assert holes.kind == "pinholes-tool"
    assert holes.words.startswith("9\N{NO-BREAK SPACE}pinholes, ")


def test_on_the_bag_side_pinholes_are_those_of_the_bag_side(session, photo, measured):
    photo.face = Face.BAG
    assert [one.kind for one in suggestions(session, measured)] == ["dry-spot", "pinholes-bag"]


def test_accepted_once_it_is_suggested_no_more_even_when_deleted(session, photo, measured):
    patch, holes = suggestions(session, measured)
    mark = accept(session, photo, patch)
    assert suggestions(session, measured) == [holes]

    assert accept(session, photo, patch).id == mark.id
    delete_mark(session, mark.id, photo.id, NOON)
    assert suggestions(session, measured) == [holes]


def test_what_a_person_has_marked_already_is_not_suggested(session, photo, measured):
    x, y, across, down = PATCH
    corners = [(x - across - 9, y - down - 9), (x + across + 9, y + down + 9)]
    add_mark(session, photo.id, Shape.BOX, corners, kind="dry-spot", at=NOON)
    assert [one.kind for one in suggestions(session, measured)] == ["pinholes-tool"]


def test_no_suggested_mark_reaches_beyond_the_region_or_into_what_was_left_out(session, photo):
    measured = add_patch_and_pinholes(
        session,
        photo,
        region=[[54.0, 54.0], [350.0, 54.0], [350.0, 240.0], [54.0, 240.0]],
        settings={"leave_out": [[[54.0, 54.0], [350.0, 54.0], [350.0, 57.0], [54.0, 57.0]]]},
    )

    patch, holes = suggestions(session, measured)

    assert patch.kind == "dry-spot"
    x, y = np.array(holes.points).T
    assert (x.min(), y.min()) == (pytest.approx(54, abs=0.6), pytest.approx(57, abs=1.5))


def test_it_joins_an_open_finding_of_its_kind_on_the_photo(session, photo, measured):
    points = [(300.0, 250.0), (380.0, 290.0)]
    mark = add_mark(session, photo.id, Shape.LINE, points, kind="dry-spot", at=NOON)
    assert [one.finding_id for one in suggestions(session, measured)] == [mark.finding_id, None]


def test_suggested_marks_can_be_drawn_as_they_are(session, photo, measured):
    for one in suggestions(session, measured):
        assert accept(session, photo, one).finding.kind == one.kind


def test_where_the_bench_was_taken_for_a_void_nothing_is_suggested(session, photo):
    cut = [f"One void takes 20 % of the region and {CUT_BY_EDGE}: outline the part."]

    assert suggestions(session, add_patch_and_pinholes(session, photo, warnings=cut)) == []


def test_a_sound_surface_suggests_nothing(session, photo):
    png = mask_to_png(np.zeros((300, 400), bool))
    assert suggestions(session, add_measurement(session, photo, 0.0, voids_png=png)) == []
