"""Coming in and going: the passphrase, guessing slowed, a code for one phone, logging out."""

import hashlib
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import select, update

from defectlog.bench import passphrase
from defectlog.bench.pairing import NewCode, NobodyWaitsError, allow, asking, new_code
from defectlog.records import CameBy, Device, FailedTry, PairingCode, Role
from defectlog.web import create_app
from defectlog.web.network import Network
from tests.at_once import at_once
from tests.web.browsers import PASSPHRASE, Browser, admit, device, keep_passphrase


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    folder = Path(tmp_path_factory.mktemp("opened"))
    made = create_app(folder, network=Network(True, "http://hatch.local:8031", ("hatch.local",)))
    with pytest.MonkeyPatch.context() as patch:
        # A hash that is quick, for there are many here; bench/test_passphrase.py has the real one.
        patch.setattr(passphrase, "_N", 2**8)
        keep_passphrase(made)
        yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture(autouse=True)
def _nobody_tried_before(opened: Flask) -> None:
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        session.query(FailedTry).delete()


def at_pc(app: Flask) -> Browser:
    return Browser(app, address="127.0.0.1")


def code(app: Flask, role: Role = Role.MAKER) -> NewCode:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        return new_code(session, role, at=datetime.now(UTC))


def set_back(app: Flask, table: type, **times: datetime) -> None:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        session.execute(update(table).values(**times))


def come_in(browser: Browser, words: str = PASSPHRASE):
    return browser.post("/enter", {"passphrase": words, "name": "Office"})


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


# Pairing.


def ask(browser: Browser, typed: str, name: str = "Anna's phone"):
    return browser.post("/pair", {"code": typed, "name": name}, page="/pair")


def pair(browser: Browser, typed: str, name: str = "Anna's phone"):
    """Bring a code, be let in at the PC, and fetch the key."""
    answer = ask(browser, typed, name)
    if answer.status_code != 303:
        return answer
    with browser.app.extensions["defectlog"][0].write() as session, session.begin():
        *_, waits = asking(session, at=datetime.now(UTC))
        allow(session, waits.number, at=datetime.now(UTC))
    return browser.post("/pair/waiting", {}, page="/pair/waiting")


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


# Devices.


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
    said, *_ = cv2.QRCodeDetector().detectAndDecode(large)

    assert said.startswith("http://hatch.local:8031/pair#")
    # One code: once the phone came in by the picture the typed one is used up.
    phone = Browser(opened)
    assert pair(phone, said.partition("#")[2]).status_code == 303
    assert pair(Browser(opened), typed).status_code == 410
    assert "change nothing" in phone.get("/welcome").text


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


def test_a_closed_app_gives_no_code_but_says_how_to_open(app: Flask) -> None:
    answer = app.test_client().post("/workshop/devices/codes", data={"role": "maker"})
    assert answer.status_code == 422
    assert "--workshop" in answer.text


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
