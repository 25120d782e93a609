"""Health, bin and backup through the pages; the log that tells requests and no secrets."""

import io
import json
import re
import shutil
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import text

from defectlog.bench.health import health, reminders
from defectlog.bench.restore import check_backup
from defectlog.bench.upkeep import BACKED_UP, UpkeepNote, last_upkeep, note_upkeep
from defectlog.records import Measurement, Photo
from tests.builders import NOON, make_build, make_finding
from tests.measured import add_measurement
from tests.workshops import picture, take_photo


@pytest.fixture
def photo(app: Flask) -> int:
    records, store = app.extensions["defectlog"]
    with records.write() as session, session.begin():
        taken = take_photo(session, store, make_build(session), 1)
        make_finding(session, taken, points=((5, 5), (50, 40)))
        return taken.id


def folder_of(app: Flask) -> Path:
    return app.config["RECORDS_FOLDER"]


def test_a_photo_that_was_deleted_comes_back_by_the_button_of_the_message(
    app: Flask, client: FlaskClient, photo: int
) -> None:
    page = client.post(f"/photos/{photo}/delete", follow_redirects=True).text
    assert "Photo 1 is in the bin" in page
    way_back = re.search(r'action="(/workshop/bin/photo/1/back)"', page)[1]
    assert client.get(f"/photos/{photo}").status_code == 404
    assert "lid-1.jpg" in client.get("/workshop/bin").text

    back = client.post(way_back, follow_redirects=True)

    assert "The photo is back." in back.text
    assert client.get(f"/photos/{photo}").status_code == 200
    assert "Nothing is in the bin." in client.get("/workshop/bin").text


def test_a_finding_goes_into_the_bin_and_comes_back(client: FlaskClient, photo: int) -> None:
    gone = client.post("/findings/1/delete", follow_redirects=True).text
    assert "Finding 1 is in the bin" in gone
    missing = client.get("/findings/1")
    assert missing.status_code == 404
    assert "it may lie in the bin" in missing.text

    client.post("/workshop/bin/finding/1/back")

    assert client.get("/findings/1").status_code == 200


def test_a_mistaken_build_goes_and_one_with_photos_does_not(
    app: Flask, client: FlaskClient, photo: int
) -> None:
    records, _ = app.extensions["defectlog"]
    with records.write() as session, session.begin():
        from defectlog.bench.builds import start_build

        number = start_build(session, 1, NOON).id
    assert "started by mistake" in client.get(f"/builds/{number}").text
    assert "started by mistake" not in client.get("/builds/1").text

    assert client.post("/builds/1/delete").status_code == 422
    client.post(f"/builds/{number}/delete")

    assert client.get(f"/builds/{number}").status_code == 404
    assert client.get("/builds/1").status_code == 200
    client.post(f"/workshop/bin/build/{number}/back")
    assert client.get(f"/builds/{number}").status_code == 200


def test_the_bin_is_emptied_only_after_a_second_word(
    app: Flask, client: FlaskClient, photo: int
) -> None:
    _, store = app.extensions["defectlog"]
    client.post(f"/photos/{photo}/delete")
    assert "2\N{NO-BREAK SPACE}things will be gone" in client.get("/workshop/bin/empty").text
    assert len(list(store.originals.kept())) == 1

    assert client.post("/workshop/bin/empty").status_code == 303

    assert list(store.originals.kept()) == []
    assert client.post("/workshop/bin/photo/1/back").status_code == 404
    # Back to the question, and once more: there is nothing to ask about.
    assert client.get("/workshop/bin/empty").status_code == 303
    client.post("/workshop/bin/empty")
    assert "It was empty." in client.get("/workshop/bin").text


def test_a_backup_leaves_as_one_whole_file_and_is_noted(
    app: Flask, client: FlaskClient, photo: int, tmp_path: Path
) -> None:
    answer = client.post("/workshop/backup")

    assert answer.mimetype == "application/zip"
    assert re.search(r'filename="[\w-]+\.zip"', answer.headers["Content-Disposition"])
    (tmp_path / "b.zip").write_bytes(answer.data)
    assert len(check_backup(tmp_path / "b.zip").originals) == 1
    assert last_upkeep(folder_of(app), BACKED_UP).is_well
    assert not list(folder_of(app).glob("backing-up-*"))
    with zipfile.ZipFile(io.BytesIO(answer.data)) as held:
        assert not any("key" in name for name in held.namelist())


def test_health_says_what_needs_a_look_and_then_that_all_is_well(
    client: FlaskClient, photo: int
) -> None:
    before = client.get("/workshop/health").text
    assert "No backup was made yet" in before and "not looked over yet" in before

    client.post("/workshop/backup")
    after = client.post("/workshop/health").text

    assert "All is well" in after and "Looked over just now" in after


def test_health_names_a_photo_file_that_is_lost(app: Flask, client: FlaskClient, photo) -> None:
    _, store = app.extensions["defectlog"]
    store.originals.remove(next(store.originals.kept()))

    page = client.post("/workshop/health").text

    assert "Photo 1 of build 1 (lid-1.jpg) has no file" in page
    # It was looked over just now: to do that again is no advice until something was put right.
    signs = client.get("/workshop/health").text
    assert "1 thing found wrong" in signs.replace("\N{NO-BREAK SPACE}", " ")
    assert "Put right what is wrong" in signs


def test_health_says_that_photos_are_refused_when_the_disk_is_nearly_full(
    client: FlaskClient, photo: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = SimpleNamespace(total=256 * 10**9, free=300 * 10**6)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: usage)

    page = client.get("/workshop/health").text

    assert "0.3 GB of 256 GB free" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "photos are refused" in page


def test_the_bench_reminds_of_a_backup_when_the_last_one_is_old(
    app: Flask, client: FlaskClient, photo: int
) -> None:
    assert "No backup was made yet" in client.get("/").text
    now = datetime.now(UTC)
    note_upkeep(folder_of(app), BACKED_UP, UpkeepNote(now - timedelta(days=6), True, "x"))
    assert "backup" not in client.get("/").text.lower()

    note_upkeep(folder_of(app), BACKED_UP, UpkeepNote(now - timedelta(days=8), True, "x"))

    assert "8 days ago" in client.get("/").text


def test_an_empty_workshop_is_not_bothered(client: FlaskClient) -> None:
    assert "backup" not in client.get("/").text.lower()


def test_a_clock_set_back_is_said_and_order_is_kept(app: Flask, photo: int) -> None:
    records, store = app.extensions["defectlog"]
    yesterday = NOON - timedelta(days=1)
    with records.write() as session, session.begin():
        row = session.get(Photo, photo)
        first = add_measurement(session, row, 0.02)
        second = add_measurement(session, row, 0.01, at=yesterday)
        session.expire(row, ["measurements"])
        # The later one counts although its clock says it is the earlier one.
        assert row.measurement is second and row.measurements[1] is first
        assert session.query(Measurement).count() == 2
        said = [sign.about for sign in reminders(session, folder_of(app), now=yesterday)]
        signs = health(session, store, folder_of(app), now=yesterday)
    assert "Clock" in said
    clock = next(sign for sign in signs if sign.about == "Clock")
    assert not clock.is_well and "set the clock right" in clock.do


def test_what_the_person_at_the_pc_does_is_kept_under_a_name(app, client, photo) -> None:
    client.post("/findings/1/outcome", data={"outcome": "repair", "reason": "filled"})
    client.post("/findings/1/outcome", data={"outcome": "open"})
    client.post("/findings/1/outcome", data={"outcome": "scrap", "reason": "no good"})

    with app.extensions["defectlog"][0].engine.connect() as connection:
        asked = text('SELECT outcome, reason, "by" FROM decision ORDER BY id')
        assert [tuple(row) for row in connection.execute(asked)] == [
            ("repair", "filled", "this PC"),
            ("open", "", "this PC"),
            ("scrap", "no good", "this PC"),
        ]


def lines(app: Flask) -> list[dict]:
    file = folder_of(app) / "log" / "defectlog.jsonl"
    return [json.loads(line) for line in file.read_text("utf-8").splitlines()]


def test_every_request_has_a_number_and_a_line_and_tells_no_secrets(app, client, photo) -> None:
    answer = client.get(
        "/findings/?kind=hush-hush", headers={"Cookie": "defectlog=cookie-value-abc"}
    )
    client.post(
        "/builds/1/photos",
        data={"photos": (io.BytesIO(picture(5)), "customer-name.jpg"), "note": "words-typed"},
    )

    ours = [line for line in lines(app) if line["id"] == answer.headers["X-Request-Id"]]
    assert [(o["rule"], o["status"], o["method"]) for o in ours] == [("/findings/", 200, "GET")]
    written = (folder_of(app) / "log" / "defectlog.jsonl").read_text("utf-8")
    key = (folder_of(app) / "session.key").read_text()
    for secret in ("hush-hush", "cookie-value-abc", "customer-name", "words-typed", key):
        assert secret not in written


def test_a_fault_of_ours_is_in_the_log_under_the_number_on_the_page(app, client) -> None:
    app.add_url_rule("/broken", view_func=lambda: 1 / 0)

    answer = client.get("/broken")

    ref = re.search(r"reference (\w+)", answer.text)[1]
    (line,) = [line for line in lines(app) if line["id"] == ref and line["level"] == "error"]
    assert "ZeroDivisionError" in line["error"]
    assert answer.headers["X-Request-Id"] == ref
