"""A code lets one phone in, once the PC has said so."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask

from defectlog.bench.pairing import NobodyWaitsError, allow, asking
from defectlog.records import PairingCode
from tests.at_once import at_once
from tests.web.browsers import Browser
from tests.web.opened import ask, at_pc, code, come_in, nobody_tried_before, opened, pair, set_back

__all__ = ["nobody_tried_before", "opened"]  # fixtures


def how_it_stands(phone: Browser) -> str:
    return phone.get("/pair/waiting", headers={"Accept": "application/json"}).json["standing"]


def test_a_code_alone_lets_nobody_in_before_the_pc_has_said_so(opened: Flask) -> None:
    pc, phone = at_pc(opened), Browser(opened, address="192.168.1.99")
    come_in(pc)
    made = code(opened)
    assert ask(phone, made.picture).headers["Location"] == "/pair/waiting"
    shown = re.search(r'pairing__code">(\d{4})<', phone.get("/pair/waiting").text)[1]

    # It waits: no page is open to it, and asking for its key gives none.
    assert phone.get("/builds/").status_code == 401
    answer = phone.post("/pair/waiting", {}, page="/pair/waiting")
    assert "defectlog-key" not in answer.headers.get("Set-Cookie", "")
    assert phone.get("/builds/").status_code == 401 and how_it_stands(phone) == "waits"

    # The PC sees what it is called, where it is, and the same figures.
    said = pc.get(f"/workshop/devices/codes/{made.number}").json
    assert said["asks"] and said["shown"] == shown
    assert "Anna's phone" in said["words"] and "192.168.1.99" in said["words"]
    page = "/workshop/devices/"
    assert shown in pc.get(page).text
    let_in = pc.post(f"{page}codes/{made.number}/let-in", {"once": "let-in-1"}, page=page)
    assert let_in.status_code == 303

    assert how_it_stands(phone) == "allowed"
    # Another browser that knows nothing but the address gets nothing from it.
    assert Browser(opened).post("/pair/waiting", {}, page="/pair").status_code == 410
    assert phone.post("/pair/waiting", {}, page="/pair/waiting").status_code == 303
    assert phone.get("/builds/").status_code == 200
    # Gone back, or tapped twice: it is in, and that is said.
    for again in (phone.get("/pair/waiting"), phone.post("/pair/waiting", {}, page="/welcome")):
        assert again.headers["Location"] == "/welcome"
    assert pc.get(f"/workshop/devices/codes/{made.number}").json["words"] == "Anna's phone is in."


def test_who_is_turned_away_at_the_pc_stays_out(opened: Flask) -> None:
    pc, phone = at_pc(opened), Browser(opened)
    come_in(pc)
    made = code(opened)
    ask(phone, made.typed, "A guest")
    page = "/workshop/devices/"
    away = f"{page}codes/{made.number}/turn-away"

    assert pc.post(away, {"once": "away-1"}, page=page).status_code == 303

    assert how_it_stands(phone) == "over"
    assert phone.get("/pair/waiting").status_code == 410
    assert phone.post("/pair/waiting", {}, page="/pair").status_code == 410
    late = f"{page}codes/{made.number}/let-in"
    answer = pc.post(late, {"once": "late-1"}, page=page)
    assert answer.status_code == 422 and "waits with that code any more" in answer.text


@pytest.mark.parametrize("is_allowed", [False, True])
def test_who_waits_longer_than_two_minutes_stays_out(opened: Flask, is_allowed: bool) -> None:
    phone, made = Browser(opened), code(opened)
    ask(phone, made.typed)
    past = datetime.now(UTC) - timedelta(minutes=2, seconds=1)
    set_back(opened, PairingCode, used_at=past, **({"allowed_at": past} if is_allowed else {}))

    assert how_it_stands(phone) == "over"
    assert phone.post("/pair/waiting", {}, page="/pair").status_code == 410
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        assert asking(session, at=datetime.now(UTC)) == []
        with pytest.raises(NobodyWaitsError):
            allow(session, made.number, at=datetime.now(UTC))


def test_another_passphrase_or_logging_out_everywhere_ends_the_waiting(opened: Flask) -> None:
    pc, phone = at_pc(opened), Browser(opened)
    come_in(pc)
    ask(phone, code(opened).typed)
    pc.post("/workshop/devices/cut-all-off", {}, page="/welcome")

    assert how_it_stands(phone) == "over"


@pytest.mark.parametrize("way", ["picture", "typed", "typed in lower case without the dash"])
def test_a_code_lets_one_phone_in(opened: Flask, way: str) -> None:
    made = code(opened)
    said = {"picture": made.picture, "typed": made.typed}.get(
        way, made.typed.lower().replace("-", "")
    )
    phone = Browser(opened)

    assert pair(phone, said).status_code == 303
    assert "Anna" in phone.get("/welcome").text
    assert phone.get("/builds/").status_code == 200
    # Once is enough, by whichever of the two.
    for again in (made.picture, made.typed):
        assert pair(Browser(opened), again).status_code == 410


@pytest.mark.parametrize("minutes", [5.001, -1])
def test_a_code_is_good_for_five_minutes(opened: Flask, minutes: float) -> None:
    made = code(opened)
    now = datetime.now(UTC)
    shift = timedelta(minutes=minutes)
    set_back(opened, PairingCode, made_at=now - shift, until=now - shift + timedelta(minutes=5))

    assert pair(Browser(opened), made.picture).status_code == 410


def test_two_phones_that_scan_at_once_are_one_phone_in(opened: Flask) -> None:
    made = code(opened)
    phones = [Browser(opened, address=f"192.168.1.{n}") for n in (81, 82, 83, 84)]
    tokens = [phone.token("/pair") for phone in phones]

    def scan(n: int) -> int:
        form = {"code": made.picture, "name": f"Phone {n}", "csrf_token": tokens[n]}
        return phones[n].bare_post("/pair", form).status_code

    assert sorted(at_once(4, scan)) == [303, 410, 410, 410]


def test_of_four_codes_the_oldest_is_good_no_more(opened: Flask) -> None:
    made = [code(opened) for _ in range(4)]
    assert pair(Browser(opened), made[0].picture).status_code == 410
    assert pair(Browser(opened), made[3].picture).status_code == 303


def test_a_phone_without_a_name_is_asked_for_one_and_keeps_its_code(opened: Flask) -> None:
    made = code(opened)
    phone = Browser(opened)
    answer = pair(phone, made.typed, name=" \0 ")
    assert answer.status_code == 400
    assert made.typed in answer.text
    assert pair(phone, made.typed).status_code == 303


def test_a_name_is_shown_as_text(opened: Flask) -> None:
    phone = Browser(opened)
    pair(phone, code(opened).typed, name="<img src=x onerror=alert(1)>\u202e")
    page = phone.get("/welcome").text
    assert "<img src=x" not in page and "&lt;img" in page
    assert "\u202e" not in page


def test_the_picture_says_the_address_and_the_code(opened: Flask) -> None:
    import cv2
    import numpy as np

    pc = at_pc(opened)
    come_in(pc)
    page = pc.post("/workshop/devices/codes", {"role": "reader"}, page="/workshop/devices/").text
    typed = re.search(r'pairing__code">([A-Z2-9]{4}-[A-Z2-9]{4})<', page)[1]
    svg = re.search(r"<svg.*?</svg>", page, re.S)[0]
    side = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])

    # Draw it as a browser would: the path is made of strokes one module high, and let OpenCV read.
    grid = np.full((side, side), 255, np.uint8)
    x = y = 0.0
    for step, values in re.findall(r"([mMhv])([-\d. ]+)", re.search(r' d="([^"]+)"', svg)[1]):
        numbers = [float(n) for n in re.findall(r"-?\d*\.?\d+", values)]
        if step == "h":
            grid[int(y), int(x) : int(x + numbers[0])] = 0
            x += numbers[0]
        else:
            x, y = (numbers[0], numbers[1]) if step == "M" else (x + numbers[0], y + numbers[1])
    large = cv2.resize(grid, None, fx=8, fy=8, interpolation=cv2.INTER_NEAREST)
    # Of 1200 such codes OpenCV's other detector can't read four; this one reads all.
    said, *_ = cv2.QRCodeDetectorAruco().detectAndDecode(large)

    assert said.startswith("http://hatch.local:8031/pair#")
    # One code: once the phone came in by the picture the typed one is used up.
    phone = Browser(opened)
    assert pair(phone, said.partition("#")[2]).status_code == 303
    assert pair(Browser(opened), typed).status_code == 410
    assert "change nothing" in phone.get("/welcome").text


def test_a_closed_app_gives_no_code_but_says_how_to_open(app: Flask) -> None:
    answer = app.test_client().post("/workshop/devices/codes", data={"role": "maker"})
    assert answer.status_code == 422
    assert "--workshop" in answer.text
