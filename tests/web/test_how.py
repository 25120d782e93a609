"""The page that shows how a figure was made, over HTTP."""

import io

import pytest
from PIL import Image

from tests.pictures import Surface, render
from tests.taken_in import photo_taken_in

AS_SCRIPT = {"Accept": "application/json"}


@pytest.fixture
def place(app, client) -> str:
    """The address of a measurement of a small photo."""
    jpeg = io.BytesIO()
    picture = render(Surface(size_mm=(60, 45), fraction=0.03, seed=4))
    Image.fromarray(picture.grey).save(jpeg, "JPEG", quality=92)
    number = photo_taken_in(app, jpeg.getvalue())
    made = client.post(f"/photos/{number}/measurements", json={}, headers=AS_SCRIPT).get_json()
    return f"/photos/{number}/measurements/{made['measurement_id']}"


def test_the_page_shows_every_step_with_its_pictures(client, place):
    page = client.get(f"{place}/how").get_data(as_text=True)

    for number, title in enumerate(
        (
            "The photo in grey",
            "The light evened out",
            "What stands out",
            "What was turned away, and why",
            "The cloth as a whole",
            "What was counted",
        ),
        1,
    ):
        assert f"{number}. {title}" in page
    for step in ("grey", "light", "even", "standing-out", "tone", "swing", "counted"):
        answer = client.get(f"{place}/how/{step}.jpg")
        assert answer.mimetype == "image/jpeg" and f"{place}/how/{step}.jpg" in page
        with Image.open(io.BytesIO(answer.data)) as picture:
            assert picture.size == (720, 540)  # 60 mm × 45 mm at 12 px/mm
    assert "<svg" in page and "style=" not in page


def test_what_was_turned_away_is_answered_to_the_room(client, place):
    told = client.get(f"{place}/rejected", headers=AS_SCRIPT).get_json()

    assert set(told) == {"words", "spots", "reasons"}
    assert all(set(spot) == {"x", "y", "r_px", "words", "why"} for spot in told["spots"])


def test_a_counted_void_is_answered_to_the_room_by_its_size_and_by_its_place(client, place):
    def told(**asked):
        return client.get(f"{place}/void", query_string=asked, headers=AS_SCRIPT).get_json()["void"]

    (row,) = client.get(f"{place.split('/measurements')[0]}/state").get_json()["measurements"]
    all_of_them = [told(rank=rank) for rank in range(1, row["count"] + 1)]
    sizes = [one["r_px"] for one in all_of_them]

    assert len({(one["x"], one["y"]) for one in all_of_them}) == row["count"] > 10
    assert sizes == sorted(sizes, reverse=True)
    assert all(one["words"].startswith("Counted: ") for one in all_of_them)
    fifth = all_of_them[4]
    assert told(x=fifth["x"], y=fifth["y"], reach=0) == fifth
    assert told(rank=0) is told(rank=row["count"] + 1) is told(x=1, y="way off", reach=9) is None


def test_the_room_leads_to_both(client, place):
    photo = place.split("/measurements")[0]
    (row,) = client.get(f"{photo}/state").get_json()["measurements"]

    assert row["how_url"] == f"{place}/how" and row["rejected_url"] == f"{place}/rejected"


@pytest.mark.parametrize("path", ["how/magic.jpg", "how/grey.png"])
def test_another_step_is_not_there(client, place, path):
    assert client.get(f"{place}/{path}").status_code == 404


@pytest.mark.parametrize("path", ["how", "rejected", "void?rank=1", "how/grey.jpg"])
def test_a_measurement_of_another_photo_is_not_there(client, place, path):
    assert client.get(f"/photos/77/measurements/1/{path}").status_code == 404
    assert client.get(f"{place}7/{path}").status_code == 404
