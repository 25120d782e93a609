"""Coming in by the passphrase, guessing slowed, and another passphrase."""

import hashlib
from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask
from sqlalchemy import select

from defectlog.bench import passphrase
from defectlog.records import Device, FailedTry
from defectlog.web import create_app
from defectlog.web.network import Network
from tests.at_once import at_once
from tests.web.browsers import PASSPHRASE, Browser, admit, keep_passphrase
from tests.web.opened import at_pc, come_in, nobody_tried_before, opened, set_back

__all__ = ["nobody_tried_before", "opened"]  # fixtures


def test_the_passphrase_opens_the_records_at_the_pc(opened: Flask) -> None:
    browser = at_pc(opened)
    assert come_in(browser).status_code == 303
    assert browser.get("/").status_code == 200
    assert browser.get("/workshop/devices/").status_code == 200


def test_a_wrong_passphrase_opens_nothing_and_says_so(opened: Flask) -> None:
    browser = at_pc(opened)
    answer = come_in(browser, "tide lamp rudder rope")
    assert answer.status_code == 403
    assert "not the workshop" in answer.text
    assert browser.get("/").status_code == 401


@pytest.mark.parametrize("words", ["", "x" * 300, "tide lamp rudder glue\0", "é" * 256])
def test_odd_passphrases_are_wrong_ones_and_no_more(opened: Flask, words: str) -> None:
    assert come_in(at_pc(opened), words).status_code == 403


@pytest.mark.parametrize("words", ["", "x" * 300, "tide lamp rudder rope", PASSPHRASE])
@pytest.mark.parametrize("is_set", [True, False], ids=["one is set", "none is set"])
def test_whatever_is_typed_costs_one_hash_so_that_the_time_tells_nothing(
    opened: Flask, monkeypatch: pytest.MonkeyPatch, words: str, is_set: bool
) -> None:
    costs = []
    real = hashlib.scrypt

    def hash_and_count(key: bytes, **how: int | bytes) -> bytes:
        costs.append((how["n"], how["r"], how["p"]))
        return real(key, **how)

    monkeypatch.setattr(passphrase.hashlib, "scrypt", hash_and_count)
    if not is_set:
        monkeypatch.setattr(passphrase, "_newest", lambda session: None)
        monkeypatch.setattr(passphrase, "_NOBODYS", f"scrypt${2**8}$8$3${'00' * 16}${'00' * 32}")

    come_in(at_pc(opened), words)

    assert costs == [(2**8, passphrase._R, passphrase._P)]


def test_over_plain_http_the_passphrase_is_neither_asked_for_nor_taken(opened: Flask) -> None:
    phone = Browser(opened)
    page = phone.get("/enter").text
    assert 'type="password"' not in page and "anyone on this Wi-Fi" in page
    answer = come_in(phone)
    assert answer.status_code == 403
    assert phone.get("/").status_code == 401


def test_over_https_the_passphrase_is_taken_and_the_cookie_bound_to_it(opened: Flask) -> None:
    browser = Browser(opened, base="https://localhost")
    answer = come_in(browser)
    assert answer.status_code == 303
    (cookie,) = [c for c in answer.headers.getlist("Set-Cookie") if "defectlog-key" in c]
    assert cookie.startswith("__Host-defectlog-key=")
    for mark in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"):
        assert mark in cookie
    session_cookies = [c for c in answer.headers.getlist("Set-Cookie") if "defectlog=" in c]
    assert all(c.startswith("__Host-defectlog=") and "Secure" in c for c in session_cookies)


def test_coming_in_begins_a_new_session(opened: Flask) -> None:
    browser = at_pc(opened)
    before = browser.token("/enter")
    first = come_in(browser)
    key = browser.client.get_cookie("defectlog-key", domain="localhost").value

    assert "defectlog-key=" in first.headers["Set-Cookie"]
    # What was known of the session before is worth nothing in the one after.
    assert browser.bare_post("/leave", {"csrf_token": before}).status_code == 400
    come_in(browser)
    assert browser.client.get_cookie("defectlog-key", domain="localhost").value != key


def test_the_key_itself_is_not_in_the_records(opened: Flask) -> None:
    _, key = admit(opened)
    with opened.extensions["defectlog"][0].read() as session:
        assert key not in set(session.scalars(select(Device.key_sha256)))
    file = opened.config["RECORDS_FOLDER"] / "records.sqlite"
    assert key.encode() not in file.read_bytes()
    assert PASSPHRASE.encode() not in file.read_bytes()


# Guessing.
def test_after_five_wrong_tries_the_right_one_has_to_wait_too(opened: Flask) -> None:
    browser = Browser(opened, base="https://localhost")
    statuses = [come_in(browser, f"wrong words number {n}").status_code for n in range(5)]
    answer = come_in(browser)

    assert statuses == [403] * 5
    assert answer.status_code == 429
    assert int(answer.headers["Retry-After"]) >= 1
    assert "wait" in answer.text
    # Once it has waited it comes in, and the count is cleared.
    set_back(opened, FailedTry, at=datetime.now(UTC) - timedelta(seconds=2))
    assert come_in(browser).status_code == 303
    with opened.extensions["defectlog"][0].read() as session:
        assert session.query(FailedTry).count() == 0


def test_a_restart_and_another_worker_count_the_same_tries(opened: Flask) -> None:
    for n in range(5):
        come_in(Browser(opened, base="https://localhost"), f"wrong words number {n}")
    again = create_app(opened.config["RECORDS_FOLDER"], network=opened.extensions["network"])

    assert come_in(Browser(again, base="https://localhost")).status_code == 429
    again.extensions["defectlog"][0].close()


def test_tries_from_the_network_never_hold_up_the_pc(opened: Flask) -> None:
    for n in range(6):
        come_in(Browser(opened, base="https://localhost"), f"wrong words number {n}")

    assert come_in(at_pc(opened)).status_code == 303


def test_a_storm_from_many_addresses_is_held_to_thirty_a_minute(opened: Flask) -> None:
    statuses = [
        Browser(opened, address=f"192.168.2.{n}")
        .post("/pair", {"code": "AAAA-AAAA", "name": "n"}, page="/pair")
        .status_code
        for n in range(32)
    ]
    assert statuses == [410] * 30 + [429] * 2


def test_tries_sent_at_once_do_not_slip_through_together(opened: Flask) -> None:
    browsers = [Browser(opened, base="https://localhost") for _ in range(12)]
    tokens = [browser.token("/enter") for browser in browsers]

    def guess(n: int) -> int:
        form = {"passphrase": f"wrong words number {n}", "csrf_token": tokens[n]}
        return browsers[n].bare_post("/enter", form).status_code

    statuses = at_once(12, guess)

    # Five free ones; a sixth only if a second went by meanwhile.
    assert statuses.count(403) <= 7
    assert statuses.count(429) >= 5


def test_setting_another_passphrase_needs_the_one_in_force_and_ends_all_sessions(
    opened: Flask,
) -> None:
    pc, phone = at_pc(opened), Browser(opened).carry(admit(opened)[1])
    come_in(pc)
    page = "/workshop/devices/"
    new = {"passphrase": "rope vane kettle moss", "again": "rope vane kettle moss"}

    wrong = pc.post(f"{page}passphrase", {"current": "no", **new}, page=page)
    assert wrong.status_code == 403 and phone.get("/builds/").status_code == 200
    weak = pc.post(
        f"{page}passphrase",
        {"current": PASSPHRASE, "passphrase": "short", "again": "short"},
        page=page,
    )
    assert weak.status_code == 400 and "four words" in weak.text

    assert (
        pc.post(f"{page}passphrase", {"current": PASSPHRASE, **new}, page=page).status_code == 303
    )
    assert phone.get("/builds/").status_code == pc.get("/").status_code == 401
    assert come_in(pc).status_code == 403
    assert come_in(pc, new["passphrase"]).status_code == 303
    keep_passphrase(opened)


def test_the_first_passphrase_is_set_in_the_app_before_it_is_opened(app: Flask) -> None:
    page = "/workshop/devices/"
    new = {"passphrase": PASSPHRASE, "again": PASSPHRASE}
    assert app.test_client().post(f"{page}passphrase", data=new).status_code == 303
    again = create_app(app.config["RECORDS_FOLDER"], network=Network(True, "http://192.168.1.5:1"))
    assert come_in(at_pc(again)).status_code == 303
    again.extensions["defectlog"][0].close()
