"""Pairing as two people see it: the PC shows a picture, the phone opens what it says."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from flask import Flask

from defectlog.bench.parts import PartPlan, save_part
from defectlog.records import Role
from defectlog.web import create_app
from defectlog.web.network import Network
from defectlog.web.records import transaction
from tests.browser.lid import Lid
from tests.serving import serving
from tests.taken_in import photo_taken_in
from tests.web.browsers import PASSPHRASE, admit, keep_passphrase

pytestmark = pytest.mark.browser
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1440, "height": 900}}


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(tmp_path, network=Network(True, "http://127.0.0.1:1"))
    keep_passphrase(made)
    yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture
def opened(app: Flask) -> Iterator[str]:
    with serving(app) as served:
        yield served


def violations(page: Any) -> list[str]:
    return [found["id"] for found in Axe().run(page).response["violations"]]


def test_a_phone_is_paired_with_the_keyboard_alone_and_the_pc_says_so(
    chromium: Any, opened: str
) -> None:
    desk = chromium.new_context(**DESK).new_page()
    faults: list[str] = []
    desk.on("pageerror", lambda error: faults.append(str(error)))
    desk.goto(f"{opened}/enter")
    assert violations(desk) == []
    desk.focus("#f-passphrase")
    desk.keyboard.type(PASSPHRASE)
    desk.keyboard.press("Enter")
    desk.wait_for_selector("nav.spine")

    desk.goto(f"{opened}/workshop/devices/")
    assert violations(desk) == []
    desk.focus("text=Show a code")
    desk.keyboard.press("Enter")
    desk.wait_for_selector("svg.qr")
    assert violations(desk) == []
    typed = desk.inner_text(".pairing__code")

    phone = chromium.new_context(**PHONE).new_page()
    phone.on("pageerror", lambda error: faults.append(str(error)))
    phone.goto(f"{opened}/builds/")
    assert phone.inner_text("h1") and phone.locator("nav.spine").count() == 0
    # What the picture says: the code stands behind the #, and is gone from the address bar at once.
    phone.goto(f"{opened}/pair#ABCD-EFGH")
    # The right picture scanned after an old one changes nothing but what follows the #.
    phone.goto(f"{opened}/pair#{typed}")
    assert phone.locator("#scanned").is_visible() and not phone.locator("#typed").is_visible()
    assert phone.url == f"{opened}/pair"
    assert violations(phone) == []
    phone.keyboard.type("Anna's phone")  # the name has the focus
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/pair/waiting")
    shown = phone.inner_text(".pairing__code")
    assert violations(phone) == []

    desk.wait_for_selector("#answer:not([hidden])")
    assert "Anna's phone" in desk.inner_text("#came") and desk.inner_text("#shown") == shown
    assert violations(desk) == []
    desk.focus("text=Let it in >> nth=-1")
    desk.keyboard.press("Enter")
    desk.wait_for_selector("text=Anna's phone is let in")

    # By itself, once it was let in.
    phone.wait_for_url("**/welcome")
    assert "Anna's phone is in" in phone.inner_text("h1")
    assert violations(phone) == []
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")

    desk.reload()
    assert "Maker, came in by pairing" in desk.inner_text("main")
    assert faults == []


def test_a_device_let_in_to_look_is_offered_no_button_or_key_it_would_be_refused(
    chromium: Any, app: Flask, opened: str, photographed: Lid
) -> None:
    with app.app_context(), transaction() as session:
        part_id = save_part(session, PartPlan("Day-hatch lid")).id
    number = photo_taken_in(app, photographed.jpeg, part_id=part_id, name="lid.jpg")
    context = chromium.new_context(**DESK)
    page = context.new_page()

    def shown(path: str, *of: str) -> list[bool]:
        page.goto(f"{opened}{path}")
        page.wait_for_load_state("networkidle")
        return [page.locator(one).first.is_visible() for one in of]

    saves, room = ".buttons > button", ("#zoom-in", "[data-tool=spot]", "#measure")
    for role, may in ((Role.MAKER, True), (Role.READER, False)):
        key = admit(app, role)[1]
        context.add_cookies([{"name": "defectlog-key", "value": key, "url": opened}])
        assert shown("/builds/new", ".field", saves) == [True, may]
        assert shown(f"/photos/{number}", *room) == [True, may, may]
        # To go, and to come in anew, is open to all.
        assert shown("/welcome", "main form button") == [True]

    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    page.goto(f"{opened}/photos/{number}")
    page.wait_for_selector("#room.is-ready")
    for key in (*"slobrmk", "Delete", "Control+z", "Control+y"):
        page.keyboard.press(key)
        assert page.locator("#room").get_attribute("data-hand") == "look", key
        assert not page.locator("dialog[open]").is_visible()
    page.keyboard.press("?")
    listed = page.locator("#keys-sheet").inner_text()
    assert "what was turned away" in listed and "measure voids" not in listed
    assert sent == []
    context.close()
