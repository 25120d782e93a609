"""Open to the workshop network, every address of the app refuses strangers: the app names them.

The addresses are those of the app's own map, so that a new one is among them by itself.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import update
from werkzeug.routing import Rule

from defectlog.records import CameBy, Device, Role
from defectlog.web import create_app
from defectlog.web.network import Network
from tests.web.browsers import Browser, admit, keep_passphrase

LOOKING = {"GET", "HEAD", "OPTIONS"}
# The short list. Whoever adds to it says here why a stranger may have it.
FREE = {
    "static",  # style and script, the same in every workshop
    "entry.ask",  # asks for the passphrase
    "entry.enter",
    "entry.pairing",  # asks for a code
    "entry.pair_device",
    "entry.waiting",  # of a device that brought a code: whether it was let in
    "entry.come_in",
    "entry.certificate",  # what a phone has to know before it can trust the PC
}
KEEPERS_ONLY = {
    "devices.index",
    "devices.add",
    "devices.code_state",
    "devices.let_one_in",
    "devices.turn_one_away",
    "devices.cut_one_off",
    "devices.cut_everyone_off",
    "devices.keep_passphrase",
}


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    folder = Path(tmp_path_factory.mktemp("opened"))
    made = create_app(folder, network=Network(True, "http://192.168.1.5:8031"))
    keep_passphrase(made)
    yield made
    made.extensions["defectlog"][0].close()


def path_of(rule: Rule) -> str:
    """An address of a rule, with something plausible for each of its blanks."""
    path = rule.rule
    for name, converter in rule._converters.items():
        filling = "1" if type(converter).__name__ == "RecordNumber" else "pinholes-tool"
        head, _, tail = path.partition("<")
        blank, _, tail = tail.partition(">")
        assert blank.rpartition(":")[2] == name
        path = f"{head}{filling}{tail}"
    return path


def asked_for(app: Flask) -> list[tuple[str, str, str]]:
    """Every endpoint with its methods and an address."""
    return [
        (rule.endpoint, method, path_of(rule))
        for rule in app.url_map.iter_rules()
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"})
    ]


def send(browser: Browser, method: str, path: str, **headers: str) -> int:
    answer = browser.client.open(
        path,
        method=method,
        base_url=browser.base,
        headers={"Origin": browser.base, **headers},
    )
    return answer.status_code


def test_the_app_has_the_addresses_this_walk_is_about(opened: Flask) -> None:
    walked = asked_for(opened)
    assert len(walked) > 100
    assert {"builds.show", "intake.take", "photos.state"} <= {endpoint for endpoint, _, _ in walked}


def past_keys(app: Flask) -> dict[str, str]:
    """Keys that open nothing: none, made up, cut off, too old, long unused."""
    keys = {"none": "", "made up": "k" * 43}
    now = datetime.now(UTC)
    for name, ended in (
        ("cut off", {"cut_off_at": now}),
        ("too old", {"until": now - timedelta(seconds=1)}),
        ("unused for a month", {"last_seen_at": now - timedelta(days=30, seconds=1)}),
        ("of a time to come", {"came_at": now + timedelta(days=2)}),
    ):
        number, keys[name] = admit(app)
        with app.extensions["defectlog"][0].write() as session, session.begin():
            session.execute(update(Device).where(Device.id == number).values(**ended))
    return keys


def test_nobody_gets_anywhere_without_a_key_that_is_good(opened: Flask) -> None:
    let_through = []
    for words, key in past_keys(opened).items():
        browser = Browser(opened)
        for endpoint, method, path in asked_for(opened):
            if endpoint not in FREE and (status := send(browser.carry(key), method, path)) != 401:
                let_through.append((words, endpoint, method, status))
    assert let_through == []


def test_the_pc_itself_is_asked_too(opened: Flask) -> None:
    browser = Browser(opened, address="127.0.0.1")
    statuses = {
        send(browser, method, path)
        for endpoint, method, path in asked_for(opened)
        if endpoint not in FREE
    }
    assert statuses == {401}


def test_a_stranger_learns_not_even_which_addresses_there_are(opened: Flask) -> None:
    assert send(Browser(opened), "GET", "/no-such-page") == 401
    assert send(Browser(opened), "GET", "/builds/../../etc/passwd") == 401


def test_what_a_stranger_may_ask_for_says_nothing_of_the_workshop(opened: Flask) -> None:
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        from defectlog.bench.parts import rename_workshop

        rename_workshop(session, "Heron Slip")
    for path in ("/enter", "/pair", "/builds/", "/nope", "/workshop-certificate.crt"):
        assert "Heron Slip" not in Browser(opened).get(path).text


def test_a_reader_can_change_nothing(opened: Flask) -> None:
    reader = Browser(opened).carry(admit(opened, Role.READER)[1])
    token = reader.token("/welcome")
    changed = [
        (endpoint, method, status)
        for endpoint, method, path in asked_for(opened)
        if method not in LOOKING and endpoint not in FREE | {"entry.leave"}
        if (status := send(reader, method, path, **{"X-CSRFToken": token})) != 403
    ]
    assert changed == []
    assert reader.get("/builds/").status_code == 200


def test_every_change_needs_the_token_of_a_page(opened: Flask) -> None:
    maker = Browser(opened, address="127.0.0.1").carry(admit(opened, came_by=CameBy.PC)[1])
    taken = [
        (endpoint, method, status)
        for endpoint, method, path in asked_for(opened)
        if method not in LOOKING
        if (status := send(maker, method, path)) != 400
    ]
    assert taken == []


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:9999"},
        {"Referer": "http://evil.example/page"},
        {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"},
        {},
    ],
    ids=str,
)
def test_a_change_from_a_page_that_is_not_ours_is_refused(
    opened: Flask, headers: dict[str, str]
) -> None:
    maker = Browser(opened).carry(admit(opened)[1])
    form = {"csrf_token": maker.token("/welcome"), "name": "Locker door"}

    answer = maker.client.post("/workshop/parts/new", data=form, headers=headers)

    assert answer.status_code == 403
    assert "Locker door" not in maker.get("/workshop/").text


def test_the_token_of_another_session_is_worth_nothing(opened: Flask) -> None:
    maker, other = (Browser(opened).carry(admit(opened)[1]) for _ in range(2))
    stolen = other.token("/welcome")
    maker.get("/welcome")

    answer = maker.bare_post("/workshop/parts/new", {"csrf_token": stolen, "name": "Taken"})

    assert answer.status_code == 400


def marked(app: Flask, mark: str) -> set[str]:
    return {name for name, view in app.view_functions.items() if getattr(view, mark, False)}


def test_a_paired_phone_does_nothing_of_the_keepers_even_over_https(opened: Flask) -> None:
    assert marked(opened, "_keepers_only") >= KEEPERS_ONLY
    phone = Browser(opened, base="https://localhost").carry(admit(opened)[1])
    keepers = marked(opened, "_keepers_only")
    statuses = {
        send(phone, method, path)
        for endpoint, method, path in asked_for(opened)
        if endpoint in keepers
    }
    assert statuses == {403}


def test_what_must_not_be_overheard_is_not_sent_over_plain_http(opened: Flask) -> None:
    key = admit(opened, came_by=CameBy.PASSPHRASE)[1]
    unheard = marked(opened, "_not_in_the_clear")
    assert unheard >= KEEPERS_ONLY | {"intake.original", "entry.enter"}
    keeper = Browser(opened).carry(key)
    statuses = {
        send(keeper, method, path)
        for endpoint, method, path in asked_for(opened)
        if endpoint in unheard
    }
    assert statuses == {403}
    secure = Browser(opened, base="https://localhost").carry(key)
    assert secure.get("/workshop/devices/").status_code == 200


def test_no_header_makes_a_phone_the_pc(opened: Flask) -> None:
    keeper = Browser(opened).carry(admit(opened, came_by=CameBy.PASSPHRASE)[1])
    for header in ("X-Forwarded-For", "X-Real-IP", "Forwarded", "Client-IP"):
        for value in ("127.0.0.1", "for=127.0.0.1;proto=https"):
            headers = {header: value, "X-Forwarded-Proto": "https"}
            assert keeper.get("/workshop/devices/", headers=headers).status_code == 403


def test_behind_a_proxy_this_pc_means_nothing(tmp_path: Path) -> None:
    app = create_app(tmp_path, network=Network(True, "https://shop.example", ("shop.example",), 1))
    key = admit(app, came_by=CameBy.PASSPHRASE)[1]

    plain = Browser(app, address="127.0.0.1").carry(key)
    assert plain.get("/workshop/devices/").status_code == 403
    secure = Browser(app, base="https://shop.example")
    secure.client.set_cookie("__Host-defectlog-key", key, domain="shop.example", secure=True)
    assert secure.get("/workshop/devices/").status_code == 200
    app.extensions["defectlog"][0].close()


@pytest.mark.parametrize("host", ["evil.example", "192.168.1.5.evil.example", "localhost.", ""])
def test_a_name_made_to_point_here_gets_no_answer(opened: Flask, host: str) -> None:
    maker = Browser(opened).carry(admit(opened)[1])
    for endpoint, method, path in asked_for(opened)[::7]:
        answer = maker.client.open(path, method=method, headers={"Host": host})
        assert answer.status_code == 400, endpoint
        assert "Location" not in answer.headers


def test_closed_the_app_answers_this_pc_alone(app: Flask) -> None:
    assert Browser(app, address="127.0.0.1").get("/").status_code == 200
    for address in ("192.168.1.77", "10.0.0.9", "203.0.113.4", "fe80::1", ""):
        assert Browser(app, address=address).get("/").status_code == 403


def test_every_answer_carries_the_headers(opened: Flask) -> None:
    maker = Browser(opened, address="127.0.0.1").carry(admit(opened, came_by=CameBy.PC)[1])
    for endpoint, method, path in asked_for(opened):
        if method != "GET":
            continue
        answer = maker.get(path)
        policy = answer.headers["Content-Security-Policy"]
        assert "unsafe" not in policy and "default-src 'none'" in policy, endpoint
        assert answer.headers["X-Content-Type-Options"] == "nosniff", endpoint
        assert answer.headers["X-Frame-Options"] == "DENY", endpoint
        assert answer.headers["Referrer-Policy"] == "same-origin", endpoint
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin", endpoint
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin", endpoint
        assert "geolocation=()" in answer.headers["Permissions-Policy"], endpoint
        assert "Access-Control-Allow-Origin" not in answer.headers, endpoint
        assert endpoint == "static" or answer.headers["Cache-Control"], endpoint
        assert answer.status_code != 500, endpoint
