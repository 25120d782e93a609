"""Tiles over HTTP: asked for, cut meanwhile, and then there."""

import io
import time

import pytest
from PIL import Image

from tests.taken_in import photo_taken_in

PATIENCE_S = 60


def photo(app, size) -> int:
    file = io.BytesIO()
    Image.new("RGB", size, (120, 110, 90)).save(file, "JPEG")
    return photo_taken_in(app, file.getvalue(), name="lid.jpg")


@pytest.fixture
def large(app) -> int:
    return photo(app, (5000, 1100))


def test_tiles_are_not_cut_before_somebody_looks_close_and_then_come_by_themselves(
    app, client, large
):
    folder = app.config["RECORDS_FOLDER"]
    tiles = client.get(f"/photos/{large}/state").get_json()["photo"]["tiles"]
    assert list(folder.rglob("*-tiles.zip")) == []
    first = f"{tiles['url']}/0/0-0.jpg?v={tiles['version']}"
    assert client.get(first).status_code == 404

    waited_until = time.monotonic() + PATIENCE_S
    while not (answer := client.get(tiles["url"])).get_json()["ready"]:
        assert answer.status_code == 202
        assert time.monotonic() < waited_until
        time.sleep(0.05)

    shown = client.get(first)
    assert (shown.status_code, shown.mimetype) == (200, "image/jpeg")
    assert "immutable" in shown.headers["Cache-Control"]
    assert shown.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    with Image.open(io.BytesIO(shown.data)) as tile:
        assert tile.size == (512, 512)


def test_a_photo_that_its_copies_show_whole_has_no_tiles(app, client):
    number = photo(app, (800, 600))
    assert client.get(f"/photos/{number}/state").get_json()["photo"]["tiles"] is None
    assert client.get(f"/photos/{number}/tiles").status_code == 404


def test_a_deleted_photo_gives_no_tiles(client, large):
    client.post(f"/photos/{large}/delete")
    assert client.get(f"/photos/{large}/tiles").status_code == 404
    assert client.get(f"/photos/{large}/tiles/0/0-0.jpg").status_code == 404


def test_tiles_that_cannot_be_cut_are_said_not_to_come(app, client, large):
    for original in app.config["RECORDS_FOLDER"].rglob("??/*.jpg"):
        original.unlink()
    answers = []
    while not answers or answers[-1] == {"ready": False}:
        time.sleep(0.02)
        answers.append(client.get(f"/photos/{large}/tiles").get_json())

    assert answers[-1]["failed"] is True
    assert answers[-1]["words"]
