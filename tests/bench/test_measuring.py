"""A photo gets its scale and its measurements; both are only ever added to."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy.orm import Session

from defectlog.bench.findings import add_mark
from defectlog.bench.intake import take_in
from defectlog.bench.mark_points import MarkError
from defectlog.bench.measuring import (
    NoCardError,
    card_scale,
    find_measurement,
    keep_measurement,
    keep_scale,
    measure_photo,
    scale_by_points,
)
from defectlog.bench.overlay import mask_to_png, overlay_png
from defectlog.bench.room import measurement_words, room_state
from defectlog.errors import FieldError, NotFoundError
from defectlog.measure.lengths.scale import NO_SCALE, BadScaleError
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Face, Photo, PhotoStage, Shape
from tests.builders import NOON, make_build
from tests.measured import add_measurement
from tests.pictures import Surface, render

PX_PER_MM = 12.0
PICTURE = render(Surface(size_mm=(60, 45), fraction=0.03, seed=4, px_per_mm=PX_PER_MM))


@pytest.fixture
def store(tmp_path: Path) -> PhotoStore:
    return PhotoStore(tmp_path / "photos")


@pytest.fixture
def photo(session: Session, store: PhotoStore) -> Photo:
    out = io.BytesIO()
    Image.fromarray(PICTURE.grey).save(out, "PNG")
    return take_in(
        session,
        store,
        make_build(session).id,
        out.getvalue(),
        name="tool-side.png",
        face=Face.TOOL,
        stage=PhotoStage.DEMOULD,
        at=NOON,
    ).photo


def measure(session: Session, store: PhotoStore, photo: Photo, region=None):
    measured = measure_photo(photo, store, region=region)
    return keep_measurement(session, photo.id, measured, region=region, at=NOON)


def test_a_measurement_of_record_covers_the_truth_and_keeps_how_it_was_made(
    session: Session, store: PhotoStore, photo: Photo
) -> None:
    row = measure(session, store, photo)

    assert row.void_fraction_low <= PICTURE.fraction <= row.void_fraction_high
    assert row.version and row.settings
    assert row.result["count"] == row.count == len(row.result["voids"])
    assert row.density_per_cm2 is None  # no scale, so no mm


def test_measuring_again_adds_a_measurement_and_supersedes_the_first(
    session: Session, store: PhotoStore, photo: Photo
) -> None:
    first = measure(session, store, photo)
    region = [(50.0, 50.0), (600.0, 50.0), (600.0, 450.0), (50.0, 450.0)]
    second = measure(session, store, photo, region)

    assert photo.measurements == [second, first]
    assert photo.measurement is second
    assert second.inspected_px <= 551 * 401  # both border rows belong to it
    assert first.region is None


def test_two_points_give_a_scale_with_its_doubt(session: Session, photo: Photo) -> None:
    row = scale_by_points(session, photo.id, [(100, 100), (700, 100)], 50, NOON)

    assert row.px_per_mm == pytest.approx(PX_PER_MM)
    # Pointing √2·3 px on 600 px and reading 0.5 mm on 50 mm: √(0.707² + 1²) = 1.22 %.
    assert row.uncertainty_pct == pytest.approx(1.22, abs=0.01)
    assert photo.scale is row
    assert room_state(session, photo)["scale"]["words"].startswith("12")


@pytest.mark.parametrize(
    ("pointing_px", "doubt"),
    [
        # √(√2·12 / 600)² + (0.5 / 50)², in per cent: √(2.83² + 1²) = 3.00.
        (12.0, 3.00),
        # What is sent as surer than anybody points, or is none, is as if nothing were.
        (0.1, 1.22),
        (-50.0, 1.22),
        (float("nan"), 1.22),
    ],
)
def test_the_doubt_grows_with_how_far_off_the_points_may_be(
    session: Session, photo: Photo, pointing_px: float, doubt: float
) -> None:
    points = [(100, 100), (700, 100)]
    row = scale_by_points(session, photo.id, points, 50, NOON, pointing_px=pointing_px)

    assert row.uncertainty_pct == pytest.approx(doubt, abs=0.01)


@pytest.mark.parametrize(
    ("points", "length", "fault", "words"),
    [
        ([(5, 5)], 10, FieldError, "two points"),
        ([(5, 5), (5, 5)], 10, FieldError, "same place"),
        ([(5, 5), (5, 6.5)], 10, BadScaleError, "too close"),
        ([(5, 5), (500, 5)], -3, BadScaleError, "above 0"),
        ([(5, 5), (500, 5)], 1e9, FieldError, "no distance on a part"),
        ([(5, 5), (500, 5)], 1e-9, FieldError, "no distance on a part"),
        ([(5, 5), (50_000, 5)], 10, MarkError, "outside the picture"),
    ],
)
def test_a_scale_that_cannot_be_is_refused(
    session: Session, photo: Photo, points, length: float, fault, words: str
) -> None:
    with pytest.raises(fault, match=words):
        scale_by_points(session, photo.id, points, length, NOON)
    assert photo.scale.px_per_mm is None


def test_a_photo_without_a_card_says_so(store, photo: Photo) -> None:
    with pytest.raises(NoCardError, match="two points"):
        card_scale(photo, store)


def test_a_scale_can_be_taken_back_and_the_earlier_one_stays_on_record(
    session: Session, photo: Photo
) -> None:
    scale_by_points(session, photo.id, [(100, 100), (700, 100)], 50, NOON)
    keep_scale(session, photo.id, NO_SCALE, NOON)
    session.expire(photo)

    assert photo.scale.source == "none"
    assert [row.source for row in photo.scales] == ["none", "points", "none"]
    assert room_state(session, photo)["scale"]["words"] == "No scale: sizes are in pixels"


def test_a_measurement_belongs_to_the_scale_it_was_made_by_and_says_when_there_is_another(
    session: Session, store: PhotoStore, photo: Photo
) -> None:
    def told(row) -> str:
        return " ".join(measurement_words(row)["warnings"]).replace("\N{NO-BREAK SPACE}", " ")

    ends = [(100, 100), (700, 100)]
    found = measure_photo(photo, store, region=None)
    scale_by_points(session, photo.id, ends, 50, NOON)  # in another tab, meanwhile
    session.expire(photo)
    without = keep_measurement(session, photo.id, found, region=None, at=NOON)
    assert without.scale.px_per_mm is None
    assert "measured before the photo had a scale: measure again" in told(without)

    by_12 = measure(session, store, photo)
    assert by_12.scale is photo.scale and "measure again" not in told(by_12)
    scale_by_points(session, photo.id, ends, 60, NOON)
    session.expire(photo)
    assert "Sizes are by a scale of 12 px/mm that the photo had then: measure again" in told(by_12)
    keep_scale(session, photo.id, NO_SCALE, NOON)
    session.expire(photo)
    assert told(by_12).endswith("that the photo had then; it was taken back since.")
    assert "measured before" not in told(without)


@pytest.mark.parametrize("look", ["odd", ""])
def test_an_unknown_look_is_refused(store, photo: Photo, look: str) -> None:
    with pytest.raises(FieldError, match="auto, dark or bright"):
        measure_photo(photo, store, region=None, look=look)


def test_a_region_outside_the_picture_is_refused(store, photo: Photo) -> None:
    with pytest.raises(MarkError, match="outside the picture"):
        measure_photo(photo, store, region=[(0, 0), (9000, 0), (0, 9000)])


def test_a_region_that_crosses_itself_is_refused(store, photo: Photo) -> None:
    with pytest.raises(MarkError, match="crosses itself"):
        measure_photo(photo, store, region=[(0, 0), (200, 200), (200, 0), (0, 200)])


def test_the_overlay_colours_exactly_what_was_counted(
    session: Session, store: PhotoStore, photo: Photo
) -> None:
    measured = measure_photo(photo, store, region=None)
    row = keep_measurement(session, photo.id, measured, region=None, at=NOON)
    with Image.open(io.BytesIO(overlay_png(row, (photo.width_px, photo.height_px)))) as overlay:
        alpha = np.asarray(overlay.convert("RGBA"))[..., 3]

    counted = alpha == alpha[measured.voids_mask].max()
    assert np.array_equal(counted, measured.voids_mask)
    assert (alpha[~measured.voids_mask & measured.inspected_mask] == 0).all()


def test_no_void_vanishes_from_a_smaller_overlay(session: Session, store, photo) -> None:
    row = measure(session, store, photo)
    lone = np.zeros((photo.height_px, photo.width_px), dtype=bool)
    lone[100, 100] = True
    row.voids_png = mask_to_png(lone)
    session.expunge(row)  # never written back: a measurement is not edited
    small = (photo.width_px // 8, photo.height_px // 8)
    with Image.open(io.BytesIO(overlay_png(row, small))) as overlay:
        alpha = np.asarray(overlay.convert("RGBA"))[..., 3]
    assert alpha[100 * small[1] // photo.height_px, 100 * small[0] // photo.width_px] > 0


def test_a_measurement_is_reached_through_its_own_photo_only(
    session: Session, store, photo
) -> None:
    row = measure(session, store, photo)
    assert find_measurement(session, row.id, photo.id) is row
    with pytest.raises(NotFoundError):
        find_measurement(session, row.id, photo.id + 1)
    with pytest.raises(NotFoundError):
        find_measurement(session, row.id + 1, photo.id)


def test_a_density_is_shown_per_dm2_as_limits_have_it_and_a_fraction_with_its_zero(
    session: Session, photo
) -> None:
    # 0.9 voids on a square centimetre are 90 on a square decimetre.
    row = add_measurement(session, photo, 0.002, density_per_cm2=0.9)

    told = measurement_words(row)

    assert told["density_words"] == "90\N{NO-BREAK SPACE}per dm²"
    assert told["void_pct_words"] == "0.20\N{NO-BREAK SPACE}%"
    assert told["scale_doubt_words"] is None  # of a scale that is none


def test_a_figure_of_large_voids_alone_is_called_one(session: Session, photo) -> None:
    large = add_measurement(session, photo, 0.002, settings={"smallest_mm": 0.8})
    # Without a scale none is left out for its size.
    bare = add_measurement(session, photo, 0.002, settings={"smallest_mm": 0.8}, mm2=None)

    assert measurement_words(large)["of_words"] == "voids from 0.8\N{NO-BREAK SPACE}mm"
    assert measurement_words(bare)["of_words"] is None


def test_a_surface_without_voids_promises_nothing_of_the_next_piece(
    session: Session, photo
) -> None:
    # All fields of it are alike, and their spread is nothing whatever the next piece holds.
    found_none = add_measurement(session, photo, 0, spread_low=0.0, spread_high=0.0)
    found_some = add_measurement(session, photo, 0.01, spread_low=0.0, spread_high=0.02)

    assert measurement_words(found_none)["spread_words"] is None
    assert "0.0 to 2.0" in measurement_words(found_some)["spread_words"]


def test_the_room_shows_every_figure_with_its_unit(session: Session, store, photo) -> None:
    scale_by_points(session, photo.id, [(100, 100), (700, 100)], 50, NOON)
    measure(session, store, photo)
    add_mark(session, photo.id, Shape.BOX, [(12, 12), (132, 252)], kind="dry-spot", at=NOON)
    state = room_state(session, photo)

    (told,) = state["measurements"]
    assert told["void_pct_words"].endswith("%")
    assert "95 %" in told["interval_words"]
    assert "per dm²" in told["density_words"] and "mm" in told["largest_words"]
    assert "cm²" in told["inspected_words"]
    assert sum(int(row["count_words"]) for row in told["sizes"]) == int(
        told["count_words"].split()[0]
    )
    # The scale is sure to 1.22 %, as worked out above; areas go with its square.
    assert "lengths are sure to ±1.2\N{NO-BREAK SPACE}%" in told["scale_doubt_words"]
    assert "±2.4\N{NO-BREAK SPACE}%" in told["scale_doubt_words"]
    # 10 × 20 mm: the diagonal is 22.36 mm, the area 200 mm².
    assert "22.4" in state["marks"][0]["size_words"] and "200" in state["marks"][0]["size_words"]
    assert {"key", "title", "code", "family"} == set(state["kinds"][0])


def test_kinds_of_the_face_in_view_come_first_then_what_the_shop_meets_most(
    session: Session, photo
) -> None:
    add_mark(session, photo.id, Shape.BOX, [(12, 12), (132, 252)], kind="dry-spot", at=NOON)
    families = [kind["family"] for kind in room_state(session, photo)["kinds"]]
    keys = [kind["key"] for kind in room_state(session, photo)["kinds"]]

    tool = families.count("tool-side")
    assert set(families[:tool]) == {"tool-side"}
    assert keys[tool] == "dry-spot"
    assert set(families[-families.count("bag-side") :]) == {"bag-side"}
