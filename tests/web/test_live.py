"""The picture a threshold is tried on, and the measurement of record at that threshold."""

import gzip
import io
import json
import struct
from typing import Any

import numpy as np
import pytest
from flask import Flask
from PIL import Image

from tests.pictures import CASES, render
from tests.taken_in import photo_taken_in

AS_SCRIPT = {"Accept": "application/json"}
OUT = [[100, 100], [300, 100], [300, 260], [100, 260]]


@pytest.fixture
def number(app: Flask) -> int:
    """A photo of voids on carbon cloth, kept without loss."""
    png = io.BytesIO()
    Image.fromarray(render(CASES["dark on carbon"]).grey).save(png, "PNG")
    return photo_taken_in(app, png.getvalue(), name="door.png")


def unpacked(body: bytes) -> tuple[dict[str, Any], np.ndarray]:
    (length,) = struct.unpack_from("<I", body)
    about = json.loads(body[4 : 4 + length])
    levels = np.frombuffer(body[4 + length :], np.uint8)
    return about, levels.reshape(about["height_px"], about["width_px"])


def test_the_picture_comes_as_bytes_with_what_they_mean(client, number):
    answer = client.post(
        f"/photos/{number}/live",
        json={"most_px": 2_000_000, "leave_out": [OUT]},
        headers=AS_SCRIPT | {"Accept-Encoding": "gzip"},
    )
    about, levels = unpacked(gzip.decompress(answer.data))

    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-store"
    assert (about["look"], about["is_reduced"], about["steps"]) == ("dark", False, 200)
    assert about["box"] == [0, 0, 1080, 840] and levels.shape == (840, 1080)
    assert (levels[100:261, 100:301] == about["not_inspected"]).all()
    assert levels[levels != 255].max() < about["steps"]
    assert about["shares"][0] == 1
    # What the bytes themselves show beyond 30 % is what the table says.
    inspected = levels[levels != about["not_inspected"]]
    assert about["shares"][60] == pytest.approx(np.mean(inspected >= 60), abs=1e-9)


def test_a_measurement_keeps_its_threshold_and_what_was_left_out(client, number):
    settings = {"threshold": 0.3, "leave_out": [OUT]}
    answer = client.post(f"/photos/{number}/measurements", json=settings, headers=AS_SCRIPT)
    (row,) = answer.get_json()["state"]["measurements"]

    assert answer.status_code == 201
    assert row["threshold"] == 0.3 and row["leave_out"] == [OUT]
    said = row["settings_words"].replace("\N{NO-BREAK SPACE}", " ")
    assert "threshold set by hand, 30 % darker than the surface around it" in said
    assert "1 area left out" in said
    overlay = client.get(row["overlay_url"]).data
    picture = Image.open(io.BytesIO(overlay)).convert("RGBA")
    assert picture.getpixel((200, 180))[3] > 0  # darkened as not asked for, not hatched
    assert {picture.getpixel((x, 180)) for x in range(110, 290)} == {picture.getpixel((200, 180))}
    how = client.get(row["how_url"])
    assert how.status_code == 200 and b"set by hand" in how.data


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"threshold": 0.99}, "out of range"),
        ({"threshold": "much"}, "no number"),
        ({"leave_out": "all"}, "could not be read"),
        ({"leave_out": [[[1, 1], [2, 2]]]}, "3 to 2000 points"),
        ({"leave_out": [OUT] * 31}, "too many"),
        ({"leave_out": [[[-5, 0], [9, 0], [9, 9]]]}, "outside"),
    ],
)
def test_settings_that_are_none_are_refused_and_nothing_is_kept(client, number, settings, words):
    answer = client.post(f"/photos/{number}/measurements", json=settings, headers=AS_SCRIPT)

    assert answer.status_code == 400
    assert words in answer.get_json()["what"].replace("\N{NO-BREAK SPACE}", " ")
    assert client.get(f"/photos/{number}/state").get_json()["measurements"] == []
