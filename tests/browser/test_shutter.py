"""From the shutter to a sized finding in six taps; the mark stays put as the phone is turned."""

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.records import Build
from tests.browser.fingers import Fingers
from tests.browser.room import PHONE, place_of
from tests.builders import make_build, make_part

pytestmark = pytest.mark.browser

CORNERS = ((800.0, 240.0), (1000.0, 340.0))  # 200 px at 8 px/mm


def test_six_taps_lead_from_the_build_to_a_sized_finding_that_stays_put(
    chromium, workshop, address, photographed, tmp_path
):
    with workshop.extensions["defectlog"][0].write() as session, session.begin():
        build = make_build(session, make_part(session, "Shutter")).id
    file = tmp_path / "lid.jpg"
    file.write_bytes(photographed.jpeg)
    page = chromium.new_context(**PHONE).new_page()
    page.goto(f"{address}/builds/{build}")

    page.get_by_role("link", name="Photograph it, face by face").tap()  # 1
    with page.expect_file_chooser() as camera:
        page.get_by_role("button", name="Take the tool side").tap()  # 2
    camera.value.set_files(str(file))
    page.get_by_role("link", name="Open the photo").tap()  # 3
    page.wait_for_selector("#room.is-ready")
    page.wait_for_selector("#first-picture", state="hidden")
    page.locator(".strip [data-tool=box]").tap()  # 4
    Fingers(page).stroke([place_of(page, CORNERS[0]), place_of(page, CORNERS[1])])  # 5
    with page.expect_response("**/marks") as answer:
        page.locator("#kind-kinds .choice", has_text="Dry spot").tap()  # 6
    assert answer.value.status == 201

    with workshop.extensions["defectlog"][0].read() as session:
        (finding,) = session.get(Build, build).findings
        (mark,) = finding.marks
        (x0, y0), (x1, y1) = mark.points
        assert finding.kind == "dry-spot" and mark.photo.scale.source == "card"
    # Drawn by a finger on a picture shrunk to a third: a pixel of the screen is three of the photo.
    for got, wanted in zip((x0, y0, x1, y1), (*CORNERS[0], *CORNERS[1]), strict=True):
        assert abs(got - wanted) < 6

    chip = page.locator(".mark-chip").first
    for size in ({"width": 800, "height": 390}, {"width": 390, "height": 800}):
        page.set_viewport_size(size)
        page.wait_for_timeout(700)
        box = chip.bounding_box()
        at = place_of(page, (x0, y0))
        assert box["x"] <= at[0] + 30 and abs(box["y"] + box["height"] - at[1]) < 40
        expect(chip).to_be_visible()
    page.context.close()
