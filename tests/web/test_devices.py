"""Devices that were let in: what they may, who did what, and how they are put out again."""

from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask
from sqlalchemy import update

from defectlog.records import CameBy, Device, Role
from tests.web.browsers import Browser, admit, device
from tests.web.opened import at_pc, code, come_in, nobody_tried_before, opened, pair, set_back

__all__ = ["nobody_tried_before", "opened"]  # fixtures


def test_a_reader_may_look_and_leave(opened: Flask) -> None:
    phone = Browser(opened)
    pair(phone, code(opened, Role.READER).typed)
    assert phone.get("/builds/").status_code == 200
    assert "change nothing" in phone.get("/welcome").text
    # It is said before anybody types something in vain.
    assert "looks only" in phone.get("/builds/").text
    maker = Browser(opened).carry(admit(opened)[1])
    assert "looks only" not in maker.get("/builds/").text
    refused = phone.post("/workshop/parts/new", {"name": "Hatch"}, page="/welcome")
    assert refused.status_code == 403 and "change nothing" in refused.text
    assert phone.post("/leave", {}, page="/welcome").status_code == 303
    assert phone.get("/builds/").status_code == 401


def test_who_did_it_is_the_name_of_the_device(opened: Flask) -> None:
    from flask import g

    from defectlog.bench.people import visitor_of
    from defectlog.web.who import who

    number, _ = admit(opened, name="Bench tablet")
    with opened.test_request_context():
        g.visitor = visitor_of(device(opened, number))
        assert who() == "Bench tablet"
    # The command line and the demo have no request: they run on the PC.
    assert who() == "this PC"


def test_a_device_that_was_here_is_seen_in_the_list(opened: Flask) -> None:
    number, key = admit(opened)
    long_ago = datetime.now(UTC) - timedelta(hours=3)
    set_back(opened, Device, last_seen_at=long_ago)
    Browser(opened).carry(key).get("/builds/")
    assert device(opened, number).last_seen_at > long_ago


def test_cutting_off_works_at_the_next_request(opened: Flask) -> None:
    number, key = admit(opened, name="Lost phone")
    phone, pc = Browser(opened).carry(key), at_pc(opened)
    come_in(pc)
    assert phone.get("/builds/").status_code == 200

    page = "/workshop/devices/"
    assert "Lost phone" in pc.get(page).text
    assert pc.post(f"{page}{number}/cut-off", {}, page=page).status_code == 303

    assert phone.get("/builds/").status_code == 401
    assert "Lost phone is cut off" in pc.get(page).text


def test_an_upload_under_way_when_the_phone_is_cut_off_is_not_saved(opened: Flask) -> None:
    from flask import g

    from defectlog.bench.people import CutOffError, cut_off, visitor_of
    from defectlog.web.records import transaction

    number, _ = admit(opened)
    with opened.test_request_context():
        g.visitor = visitor_of(device(opened, number))
        with transaction():
            pass
        with opened.extensions["defectlog"][0].write() as session, session.begin():
            cut_off(session, number, at=datetime.now(UTC))
        with pytest.raises(CutOffError), transaction():
            pass


def test_logging_out_everywhere_leaves_nobody_in(opened: Flask) -> None:
    phones = [Browser(opened).carry(admit(opened)[1]) for _ in range(3)]
    pc = at_pc(opened)
    come_in(pc)
    assert pc.post("/workshop/devices/cut-all-off", {}, page="/welcome").status_code == 303
    assert [browser.get("/builds/").status_code for browser in (*phones, pc)] == [401] * 4


def test_there_are_fifty_devices_at_most(opened: Flask) -> None:
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        session.execute(update(Device).values(cut_off_at=datetime.now(UTC)))
    for _ in range(50):
        admit(opened, came_by=CameBy.PAIRING)
    made = code(opened)
    answer = pair(Browser(opened), made.typed)
    assert answer.status_code == 422 and "50 devices" in answer.text
    # Who has no good code is not told of it, and the good one stays good.
    assert pair(Browser(opened), "AAAA-AAAA").status_code == 410
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        session.execute(update(Device).values(cut_off_at=datetime.now(UTC)))
    assert pair(Browser(opened), made.typed).status_code == 303
