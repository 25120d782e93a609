"""Taking photos in, in a real browser: sent one by one, through a lost network, without script."""

from __future__ import annotations

import hashlib
import io
import re
import socket
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from flask import Flask
from PIL import Image
from sqlalchemy import select

from defectlog.records import Photo
from tests.builders import make_build, make_part

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

_WATCH = "addEventListener('securitypolicyviolation', e => console.error('POLICY ' + e.blockedURI))"


@pytest.fixture
def page_of_build(workshop: Flask, address: str, request: pytest.FixtureRequest) -> str:
    """The address of a build of its own for each test."""
    with workshop.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session, request.node.name[:80])
        return f"{address}/builds/{make_build(session, part).id}"


def phone(chromium: Browser, **more: object) -> tuple[Page, list[str]]:
    """A page of a phone's size, and what its console complains of."""
    page = chromium.new_context(viewport={"width": 390, "height": 844}, **more).new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda said: complaints.append(said.text) if "POLICY" in said.text else None)
    page.add_init_script(_WATCH)
    return page, complaints


def picture(folder: Path, name: str, shade: int) -> Path:
    Image.new("RGB", (800, 600), (shade, shade, shade)).save(folder / name)
    return folder / name


def choose(page: Page, button: str, *files: Path) -> None:
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name=button).click()
    chooser.value.set_files([str(file) for file in files])


def faces_of(workshop: Flask, page_of_build: str) -> list[str]:
    """The faces of the photos of a build, in the order they came in."""
    number = int(page_of_build.rpartition("/")[2])
    with workshop.extensions["defectlog"][0].read() as session:
        photos = session.scalars(select(Photo).where(Photo.build_id == number).order_by(Photo.id))
        return [photo.face.value for photo in photos]


def test_photos_are_sent_one_by_one_and_a_lost_network_loses_none(
    chromium, page_of_build, tmp_path
):
    page, complaints = phone(chromium)
    words = tmp_path / "notes.jpg"
    words.write_text("not a photo")
    page.goto(page_of_build)
    page.locator("#intake-face").select_option("bag side")

    choose(page, "Choose photos", picture(tmp_path, "a.png", 90), words)
    page.get_by_text("1 of 2 photos saved. 1 photo not saved.").wait_for()
    page.get_by_text("This is text, not a photo").wait_for()
    assert page.get_by_role("button", name="Try again: notes.jpg").is_visible()
    link = page.get_by_role("link", name="a.png").get_attribute("href")
    assert re.fullmatch(r"/photos/\d+", link)

    page.context.set_offline(True)
    choose(page, "Take photo", picture(tmp_path, "b.png", 120))
    page.get_by_text("Not sent yet").wait_for()
    page.get_by_text("1 photo kept here until sent.").wait_for()
    page.context.set_offline(False)
    page.get_by_text("2 of 3 photos saved. 1 photo not saved.").wait_for()

    onwards = page.get_by_role("link", name="Open the first photo")
    assert onwards.get_attribute("href") == link
    page.get_by_role("link", name="Done").click()
    page.locator(".photos img").nth(1).wait_for()
    assert page.locator(".photos img").count() == 2
    assert complaints == []


def test_a_run_round_the_part_survives_a_lost_network_and_a_closed_page(
    chromium, page_of_build, workshop, tmp_path
):
    page, complaints = phone(chromium, has_touch=True)
    page.goto(f"{page_of_build}/run")
    choose(page, "Take the tool side", picture(tmp_path, "a.png", 90))
    page.get_by_text("1 of 1 photo saved.").wait_for()

    page.context.set_offline(True)
    choose(page, "Take the bag side", picture(tmp_path, "b.png", 120))
    choose(page, "Take the edge", picture(tmp_path, "c.png", 150))
    page.get_by_text("2 photos kept here until sent.").wait_for()
    assert page.get_by_role("radio", name="Edge").is_checked()
    context = page.context
    page.close()

    context.set_offline(False)
    page = context.new_page()
    page.goto(page_of_build.partition("/builds/")[0] + "/guide/")
    page.get_by_text("2 photos taken here have not reached").wait_for()
    page.get_by_role("link", name="Send them").tap()
    page.get_by_text("2 of 2 photos saved.").wait_for()
    assert faces_of(workshop, page_of_build) == ["tool side", "bag side", "edge"]
    page.reload()
    page.get_by_text("Every photo of this browser has been sent.").wait_for()
    assert complaints == []


def test_what_was_received_is_not_sent_again(chromium, page_of_build, workshop, tmp_path):
    page, complaints = phone(chromium)
    sent: list[str] = []
    page.context.on(
        "request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None
    )

    page.goto(page_of_build)
    answer = workshop.wsgi_app

    def cut_off(environ, start_response):
        answered = answer(environ, start_response)
        if environ["REQUEST_METHOD"] == "POST":  # it arrived, and nobody hears of it
            environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
        return answered

    workshop.wsgi_app = cut_off
    try:
        choose(page, "Choose photos", picture(tmp_path, "a.png", 90))
        page.get_by_text("Not sent yet").wait_for()
    finally:
        workshop.wsgi_app = answer

    # Two pages of one browser, both with the same outbox.
    other = page.context.new_page()
    page.reload()
    other.goto(page_of_build)
    page.get_by_text("1 of 1 photo saved.").wait_for()
    assert faces_of(workshop, page_of_build) == ["tool side"]
    assert len(sent) == 1
    assert complaints == []


def test_a_photo_changed_on_the_way_is_sent_again_and_comes_in_as_it_was_taken(
    chromium, page_of_build, workshop, tmp_path
):
    page, complaints = phone(chromium)
    page.goto(page_of_build)
    answer, altered = workshop.wsgi_app, []

    def change_a_byte(environ, start_response):
        if environ["REQUEST_METHOD"] == "POST" and not altered:
            body = environ["wsgi.input"].read(int(environ["CONTENT_LENGTH"]))
            altered.append(body)
            at = body.index(b"IDAT") + 12
            body = body[:at] + bytes([body[at] ^ 1]) + body[at + 1 :]
            environ["wsgi.input"] = io.BytesIO(body)
        return answer(environ, start_response)

    workshop.wsgi_app = change_a_byte
    try:
        file = picture(tmp_path, "a.png", 91)
        choose(page, "Choose photos", file)
        page.get_by_text("It was changed on the way").wait_for()
        page.get_by_text("1 of 1 photo saved.").wait_for()
    finally:
        workshop.wsgi_app = answer

    with workshop.extensions["defectlog"][0].read() as session:
        newest = session.scalars(select(Photo).order_by(Photo.id.desc())).first()
        assert newest.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert faces_of(workshop, page_of_build) == ["tool side"]
    assert complaints == []


def test_a_refused_photo_stays_until_it_is_thrown_away(chromium, page_of_build, tmp_path):
    page, _ = phone(chromium)
    words = tmp_path / "notes.jpg"
    words.write_text("not a photo")
    page.goto(page_of_build)
    choose(page, "Choose photos", words)
    page.get_by_text("This is text, not a photo").wait_for()

    page.reload()
    page.get_by_text("This is text, not a photo").wait_for()
    page.get_by_role("button", name="Throw away: notes.jpg").click()
    page.reload()
    page.locator("form[data-intake] button:visible").first.wait_for()
    assert page.get_by_text("notes.jpg").count() == 0


def test_without_script_the_form_does_it_all(chromium, page_of_build, tmp_path):
    page, _ = phone(chromium, java_script_enabled=False)
    page.goto(page_of_build)

    files = [picture(tmp_path, "a.png", 90), picture(tmp_path, "b.png", 120)]
    page.get_by_label("Choose photos").set_input_files([str(file) for file in files])
    page.get_by_role("button", name="Save photos").click()

    assert "2\N{NO-BREAK SPACE}photos saved." in page.locator(".said").all_inner_texts()
    assert page.locator(".photos img").count() == 2


def test_what_must_be_hit_is_as_large_as_a_thumb(chromium, page_of_build):
    page, _ = phone(chromium)
    page.goto(page_of_build)

    for button in page.locator("form[data-intake] button:visible").all():
        box = button.bounding_box()
        assert box["height"] >= 48
        assert box["width"] >= 48
