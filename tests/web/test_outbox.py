"""Photos sent from an outbox: each token is one photo, and what arrived is told when asked."""

import io

import pytest
from PIL import Image
from sqlalchemy import select

from defectlog.records import Photo
from tests.builders import make_build

JSON = {"Accept": "application/json"}


@pytest.fixture
def build(app) -> int:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        return make_build(session).id


def jpeg(shade: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (64, 48), (shade, shade, shade)).save(file, "JPEG")
    return file.getvalue()


def send(client, build: int, once: str, shade: int = 130, face: str = "tool side"):
    fields = {"once": once, "face": face, "stage": "at demould"}
    photo = (io.BytesIO(jpeg(shade)), "a.jpg")
    return client.post(f"/builds/{build}/photos", data=fields | {"photos": photo}, headers=JSON)


def count(app) -> int:
    with app.extensions["defectlog"][0].read() as session:
        return len(session.scalars(select(Photo)).all())


def test_a_token_is_one_photo_however_often_it_is_sent(client, app, build):
    first = send(client, build, "t1")
    again = send(client, build, "t1", face="edge")
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json["photo_id"] == first.json["photo_id"]
    assert not again.json["is_new"]
    assert count(app) == 1


def test_it_is_told_which_tokens_have_arrived(client, build):
    sent = send(client, build, "t1").json
    answer = client.get("/photos/received?once=t1&once=t2").json
    assert list(answer["received"]) == ["t1"]
    assert answer["received"]["t1"]["url"] == sent["url"]


def test_a_refused_photo_leaves_its_token_free(client, app, build):
    fields = {"once": "t1", "photos": (io.BytesIO(b"not a photo"), "a.jpg")}
    assert client.post(f"/builds/{build}/photos", data=fields, headers=JSON).status_code == 415
    assert client.get("/photos/received?once=t1").json == {"received": {}}
    assert send(client, build, "t1").status_code == 201
    assert count(app) == 1


def test_the_token_of_another_form_is_no_photo(client, app, build):
    client.post(f"/builds/{build}/note", data={"once": "form", "note": "x", "seen": ""})
    assert client.get("/photos/received?once=form").json == {"received": {}}


@pytest.mark.parametrize(
    "address", ["/photos/received", "/photos/received?once=", "/photos/outbox"]
)
def test_asking_for_nothing_is_no_fault(client, address):
    assert client.get(address).status_code == 200


def test_the_run_round_a_part_offers_its_faces_and_needs_a_build(client, build):
    page = client.get(f"/builds/{build}/run").get_data(as_text=True)
    assert [f'value="{face}"' in page for face in ("tool side", "bag side", "edge")] == [True] * 3
    assert client.get("/builds/99/run").status_code == 404
