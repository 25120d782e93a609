"""What each counted void is like: told by a finger on it, and by size by key and by ear."""

import math
import re

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.bench.findings import find_photo
from defectlog.bench.measuring import keep_measurement, measure_photo
from defectlog.web.records import reading, store, transaction
from tests.browser.fingers import Fingers
from tests.browser.lid import NOON
from tests.browser.room import DESK, PHONE, Room

pytestmark = pytest.mark.browser

REGION = ((60, 80), (1120, 80), (1120, 430), (60, 430))
BARE = (15, 15)  # of the photo: beside the region


@pytest.fixture(autouse=True)
def measured(workshop, number):
    with workshop.app_context():
        found = measure_photo(find_photo(reading(), number), store(), region=REGION, look="bright")
        with transaction() as session:
            keep_measurement(session, number, found, region=REGION, at=NOON)
    assert found.count >= 10
    return found


def by_size(measured) -> list:
    return sorted(measured.voids, key=lambda void: -void.d_mm)


def lies_on(room: Room, void) -> bool:
    """Whether the middle of the ring does, wherever the picture was moved to show it."""
    x, y = room.page.evaluate(
        """() => {
          const ring = document.querySelector(".overlay .told .line").getBoundingClientRect();
          const photo = document.querySelector(".overlay > g").getScreenCTM().inverse();
          const middle = new DOMPoint(ring.x + ring.width / 2, ring.y + ring.height / 2);
          const { x, y } = middle.matrixTransform(photo);
          return [x, y];
        }"""
    )
    return math.dist((x, y), (void.x, void.y)) < 2


def test_by_keys_one_stop_leads_through_all_voids_from_the_largest_on(enter, measured):
    room = enter(DESK)
    page, voids = room.page, by_size(measured)
    page.locator("#counted-strength").wait_for()
    page.locator("#counted").focus()
    page.keyboard.press("Tab")
    slider = page.locator("#by-size")
    expect(slider).to_be_focused()
    expect(slider).to_have_attribute("aria-valuetext", f"none yet of {len(voids)}")
    expect(page.locator(".overlay image")).to_have_count(0)  # an earlier measurement lies hidden

    slider.press("ArrowRight")
    expect(page.locator("#hint")).to_contain_text("from the edge of the inspected surface")
    expect(page.locator("#hint")).to_contain_text(f"void 1 of {len(voids)}")
    expect(page.locator(".overlay image")).to_have_count(1)
    expect(slider).to_be_focused()
    assert lies_on(room, voids[0])

    for step in range(2, 5):
        slider.press("ArrowRight")
        expect(page.locator("#hint")).to_contain_text(f"void {step} of")
        assert lies_on(room, voids[step - 1])
    slider.press("End")
    expect(page.locator("#hint")).to_contain_text(f"void {len(voids)} of {len(voids)}")
    assert lies_on(room, voids[-1])
    assert room.accessibility_faults() == []

    slider.press("Escape")
    expect(page.locator("#hint")).to_have_text("")
    expect(page.locator(".overlay .told")).to_have_count(0)
    expect(slider).to_be_focused()


def test_many_presses_at_once_end_at_the_last_one(enter, measured):
    room = enter(DESK)
    room.page.locator("#picture .openseadragon-canvas").focus()
    for _ in range(8):
        room.page.keyboard.press(".")
    room.page.keyboard.press(",")

    expect(room.page.locator("#hint")).to_contain_text("void 7 of")
    expect(room.page.locator("#by-size")).to_have_attribute(
        "aria-valuetext", re.compile(r"^7 of \d+$")
    )
    assert lies_on(room, by_size(measured)[6])


def test_a_finger_on_a_void_and_the_buttons_beside_the_slider_go_together(enter, measured):
    room = enter(PHONE)
    page, voids = room.page, by_size(measured)
    page.locator("#open-marks").click()
    page.locator("#counted").click()
    page.locator("#close-panel").click()
    # A small one out of a finger's reach of all outlines: of the region, and about the dry spot.
    top, bottom = REGION[0][1] + 100, REGION[2][1] - 100
    spot = voids[0]
    k = next(
        k
        for k, void in enumerate(voids)
        if top < void.y < bottom and abs(void.x - spot.x) > 1.3 * spot.d_px
    )
    Fingers(page).tap(room.at((voids[k].x, voids[k].y)))
    expect(page.locator("#hint")).to_contain_text(f"void {k + 1} of")
    assert lies_on(room, voids[k])

    page.locator("#open-marks").click()
    after = page.locator(".one-by-one").get_by_role("button", name="The next one")
    after.scroll_into_view_if_needed()
    assert min(after.bounding_box()[side] for side in ("width", "height")) >= 48
    after.click()
    expect(page.locator("#hint")).to_contain_text(f"void {k + 2} of")
    page.locator("#close-panel").click()
    page.locator("#zoom-fit").click()  # the picture had moved up, out from under the drawer
    page.wait_for_timeout(500)
    assert lies_on(room, voids[k + 1])

    Fingers(page).tap(room.at(BARE))
    expect(page.locator("#hint")).to_have_text("")
    expect(page.locator(".overlay .told")).to_have_count(0)


def test_of_a_void_and_a_spot_turned_away_only_one_is_spoken_of(enter, measured):
    room = enter(DESK)
    page = room.page
    page.locator("#by-size").press("ArrowRight")
    expect(page.locator("#hint")).to_contain_text("Counted: ")
    page.locator("#rejected").press("Enter")
    page.locator(".rejected summary").first.press("Enter")
    page.locator(".rejected details[open] input").press("ArrowRight")
    expect(page.locator("#hint")).to_contain_text("Not counted, ")
    expect(page.locator(".overlay .told")).to_have_count(0)

    page.locator("#by-size").press("ArrowRight")
    expect(page.locator("#hint")).to_contain_text("void 2 of")
    expect(page.locator(".overlay .turned .is-selected")).to_have_count(0)
