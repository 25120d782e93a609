"""The photo room over HTTP: what is sent, what is answered, what is in the records."""

import io
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image

from defectlog.bench.intake import take_in
from defectlog.records import Face, PhotoStage
from defectlog.web.records import store, transaction
from tests.builders import NOON
from tests.pictures import Surface, render
from tests.taken_in import photo_taken_in

AS_SCRIPT = {"Accept": "application/json"}
WIDTH, HEIGHT = 1080, 840  # 90 mm × 70 mm at 12 px/mm


@pytest.fixture
def number(app: Flask) -> int:
    """A photo of a plain surface without a scale card."""
    jpeg = io.BytesIO()
    Image.fromarray(render(Surface()).grey).save(jpeg, "JPEG", quality=92)
    return photo_taken_in(app, jpeg.getvalue())


def send(client: FlaskClient, path: str, body: object = None) -> tuple[int, dict[str, Any]]:
    answer = client.post(f"/photos{path}", json={} if body is None else body, headers=AS_SCRIPT)
    return answer.status_code, answer.get_json()


def state(client: FlaskClient, number: int) -> dict[str, Any]:
    return client.get(f"/photos/{number}/state").get_json()


LINE = {"shape": "line", "points": [[100, 100], [400, 500]], "kind": "dry-spot"}


def test_the_room_shows_a_photo_with_its_copies_from_small_to_large(client, number):
    page = client.get(f"/photos/{number}")
    photo = state(client, number)["photo"]

    assert page.status_code == 200
    assert b"room-state" in page.data
    assert (photo["width_px"], photo["height_px"]) == (WIDTH, HEIGHT)
    widths = [copy["width_px"] for copy in photo["renditions"]]
    assert widths == sorted(set(widths)) and widths[-1] == WIDTH
    for copy in photo["renditions"]:
        picture = Image.open(io.BytesIO(client.get(copy["url"]).data))
        assert picture.size == (copy["width_px"], copy["height_px"])


def test_a_photo_that_is_not_there_is_said_to_be_missing(client):
    answer = client.get("/photos/77/state", headers=AS_SCRIPT)

    assert answer.status_code == 404
    assert answer.get_json()["what"] == "There is no photo 77"


def test_neighbours_are_the_photos_of_the_same_build(app, client, number):
    build_id = state(client, number)["photo"]["build_id"]
    other = io.BytesIO()
    Image.new("RGB", (640, 480), "grey").save(other, "JPEG")
    with app.app_context(), transaction() as session:
        second = take_in(
            session,
            store(),
            build_id,
            other.getvalue(),
            name="b.jpg",
            face=Face.BAG,
            stage=PhotoStage.DEMOULD,
            at=NOON,
        ).photo.id

    first = state(client, number)["photo"]
    assert (first["previous_url"], first["next_url"]) == (None, f"/photos/{second}")
    assert state(client, second)["photo"]["previous_url"] == f"/photos/{number}"


def test_a_mark_opens_a_finding_and_a_second_one_joins_it(client, number):
    status, answer = send(client, f"/{number}/marks", LINE)
    finding = answer["state"]["marks"][0]["finding_id"]
    spot = {"shape": "point", "points": [[50, 60]], "finding_id": finding}
    send(client, f"/{number}/marks", spot)

    kept = state(client, number)
    assert (status, answer["mark_id"]) == (201, kept["marks"][0]["id"])
    assert [mark["finding_id"] for mark in kept["marks"]] == [finding, finding]
    assert [row["id"] for row in kept["findings"]] == [finding]
    # 300 right and 400 down: a 3-4-5 triangle, 500 px long.
    assert "500" in kept["marks"][0]["size_words"] and "px" in kept["marks"][0]["size_words"]


def test_the_same_mark_sent_twice_is_one_mark(client, number):
    _, first = send(client, f"/{number}/marks", {**LINE, "client_id": "a1"})
    _, again = send(client, f"/{number}/marks", {**LINE, "client_id": "a1"})

    assert first["mark_id"] == again["mark_id"]
    assert len(state(client, number)["marks"]) == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"points": [[0, 0], [WIDTH + 1, 5]]}, "points"),
        ({"points": [[5, 5], [5, 5]]}, "points"),
        ({"points": [[5, 5]]}, "points"),
        ({"points": "all over"}, "points"),
        ({"points": [[1, 2], [3, "x"]]}, "points"),
        ({"points": [[1, 2], [3, None]]}, "points"),
        ({"points": None}, "points"),
        ({"shape": "circle"}, "shape"),
        ({"shape": "box", "points": [[1, 1], [5, 5], [9, 9]]}, "points"),
        ({"kind": None}, "kind"),
        ({"kind": None, "finding_id": "1"}, "finding_id"),
    ],
)
def test_what_is_no_mark_is_refused_and_nothing_is_kept(client, number, change, field):
    status, answer = send(client, f"/{number}/marks", {**LINE, **change})

    assert (status, answer["field"]) == (400, field)
    assert answer["what"] and answer["do"]
    assert state(client, number)["marks"] == []
    assert state(client, number)["findings"] == []


def test_a_body_that_is_no_object_is_refused(client, number):
    for body in ([1, 2], "text", 7):
        status, answer = send(client, f"/{number}/marks", body)

        assert status == 400 and answer["what"]


def test_a_mark_is_reshaped_deleted_and_brought_back_with_its_finding(client, number):
    _, made = send(client, f"/{number}/marks", LINE)
    path = f"/{number}/marks/{made['mark_id']}"

    _, moved = send(client, path, {"points": [[10, 10], [20, 20]]})
    _, gone = send(client, f"{path}/delete")
    _, back = send(client, f"{path}/restore")

    assert moved["state"]["marks"][0]["points"] == [[10, 10], [20, 20]]
    assert (gone["state"]["marks"], gone["state"]["findings"]) == ([], [])
    assert back["state"]["marks"][0]["points"] == [[10, 10], [20, 20]]
    assert len(back["state"]["findings"]) == 1


def test_moving_a_mark_to_another_finding_can_be_taken_back(client, number):
    _, one = send(client, f"/{number}/marks", LINE)
    _, two = send(client, f"/{number}/marks", {**LINE, "kind": "bridging"})
    first, second = (mark["finding_id"] for mark in two["state"]["marks"])
    path = f"/{number}/marks/{one['mark_id']}"

    _, joined = send(client, path, {"finding_id": second})
    _, apart = send(client, path, {"finding_id": first})

    # A finding nobody worked on goes with its last mark, and is back with the next.
    assert [row["id"] for row in joined["state"]["findings"]] == [second]
    assert [mark["kind"] for mark in apart["state"]["marks"]] == ["dry-spot", "bridging"]


def test_a_mark_of_another_photo_is_not_touched_through_this_one(client, number):
    status, _ = send(client, f"/{number}/marks/99", {"points": [[1, 1], [9, 9]]})

    assert status == 404


def test_a_length_with_a_comma_scales_the_photo_and_no_scale_takes_it_away(client, number):
    ends = [[100, 100], [900, 100]]

    status, scaled = send(client, f"/{number}/scale", {"points": ends, "length_mm": "64,0"})
    _, none = send(client, f"/{number}/scale", {"none": True})

    assert status == 200
    assert scaled["state"]["scale"]["px_per_mm"] == 12.5  # 800 px over 64 mm
    assert scaled["state"]["scale"]["points"] == ends
    assert none["state"]["scale"]["px_per_mm"] is None
    assert none["state"]["scale"]["words"] == "No scale: sizes are in pixels"


@pytest.mark.parametrize("typed", ["", "abc", "1.234,5", "0", "-3", None])
def test_what_is_no_length_gives_no_scale(client, number, typed):
    status, answer = send(
        client, f"/{number}/scale", {"points": [[1, 1], [500, 1]], "length_mm": typed}
    )

    assert status in (400, 422) and answer["do"]
    assert state(client, number)["scale"]["px_per_mm"] is None


def test_a_card_that_is_not_on_the_photo_is_said_to_be_missing(client, number):
    status, answer = send(client, f"/{number}/scale", {"find_card": True})

    assert status == 400
    assert answer["what"] == "No scale card was found on this photo"


def test_a_region_is_measured_and_what_was_counted_lies_over_the_photo(client, number):
    region = [[200, 150], [900, 150], [900, 700], [200, 700]]

    status, answer = send(client, f"/{number}/measurements", {"region": region})
    measured = answer["state"]["measurements"][0]
    picture = client.get(measured["overlay_url"])

    assert (status, answer["measurement_id"]) == (201, measured["id"])
    assert measured["region"] == region
    assert "%" in measured["void_pct_words"] and "%" in measured["interval_words"]
    overlay = Image.open(io.BytesIO(picture.data)).convert("RGBA")
    assert overlay.size == (WIDTH, HEIGHT)
    # Outside of the region nothing was inspected, and that is shown; inside it is clear or counted.
    assert overlay.getpixel((20, 20))[3] > 0
    for across, size in (("270", (270, 210)), ("0", (WIDTH, HEIGHT)), ("a lot", (WIDTH, HEIGHT))):
        asked = client.get(measured["overlay_url"], query_string={"across": across})
        assert Image.open(io.BytesIO(asked.data)).size == size


def test_measuring_again_keeps_the_earlier_measurement(client, number):
    _, first = send(client, f"/{number}/measurements", {"look": "dark"})
    _, second = send(client, f"/{number}/measurements", {"look": "bright"})

    kept = [row["id"] for row in second["state"]["measurements"]]
    assert kept == [second["measurement_id"], first["measurement_id"]]


@pytest.mark.parametrize(
    "settings",
    [{"look": "pink"}, {"smallest_mm": "tiny"}, {"smallest_mm": "-1"}, {"region": [[0, 0]]}],
)
def test_settings_that_make_no_sense_are_refused(client, number, settings):
    status, answer = send(client, f"/{number}/measurements", settings)

    assert status == 400 and answer["do"]
    assert state(client, number)["measurements"] == []


def test_details_are_saved_by_script_and_by_form(client, number):
    _, answer = send(client, f"/{number}/details", {"stage": "after trim", "note": " dry core "})
    form = client.post(f"/photos/{number}/details", data={"face": "bag side"})

    photo = state(client, number)["photo"]
    assert answer["state"]["photo"]["stage"] == "after trim"
    assert (form.status_code, form.location) == (303, f"/photos/{number}")
    assert (photo["face"], photo["stage"], photo["note"]) == ("bag side", "after trim", "dry core")


def test_notes_written_on_two_screens_are_both_kept(client, number):
    send(client, f"/{number}/details", {"note": "dry core", "seen": ""})
    _, answer = send(client, f"/{number}/details", {"note": "soft edge", "seen": ""})
    seen = answer["state"]["photo"]["note"]
    _, corrected = send(client, f"/{number}/details", {"note": "dry", "seen": seen})

    assert seen == "dry core\nsoft edge"
    assert corrected["state"]["photo"]["note"] == "dry"


def test_two_notes_too_long_to_keep_together_are_refused_whole(client, number):
    send(client, f"/{number}/details", {"note": "x" * 1500, "seen": ""})
    status, answer = send(client, f"/{number}/details", {"note": "y" * 1500, "seen": ""})

    assert (status, answer["field"]) == (400, "note")
    assert state(client, number)["photo"]["note"] == "x" * 1500


def test_a_face_that_no_part_has_is_refused(client, number):
    status, answer = send(client, f"/{number}/details", {"face": "upside down"})

    assert (status, answer["field"]) == (400, "face")
    assert "tool side" in answer["do"]


def test_a_note_too_long_to_keep_is_refused_whole(client, number):
    status, answer = send(client, f"/{number}/details", {"note": "x" * 2001})

    assert (status, answer["field"]) == (400, "note")
    assert state(client, number)["photo"]["note"] == ""


def test_the_room_counts_its_marks_before_any_script_runs(client, number):
    send(client, f"/{number}/marks", LINE)

    assert client.get(f"/photos/{number}").text.count(">1\xa0mark<") == 2


def test_a_deleted_photo_goes_with_its_marks(client, number):
    send(client, f"/{number}/marks", LINE)
    build_url = state(client, number)["photo"]["build_url"]

    answer = client.post(f"/photos/{number}/delete")

    assert (answer.status_code, answer.location) == (303, build_url)
    assert client.get(f"/photos/{number}").status_code == 404
    assert client.get("/findings/1").status_code == 404


def test_marks_cannot_be_written_from_another_site(app, client, number):
    app.config["WTF_CSRF_ENABLED"] = True

    status, answer = send(client, f"/{number}/marks", LINE)

    assert status == 400 and answer["do"]
    assert state(client, number)["marks"] == []


def test_a_name_typed_by_a_person_cannot_end_the_script_that_carries_the_state(app, client, number):
    send(client, f"/{number}/details", {"note": "</script><b>hello"})

    page = client.get(f"/photos/{number}").get_data(as_text=True)

    assert "</script><b>" not in page
