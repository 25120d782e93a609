"""What was turned away: shown on the photo by finger, and one by one by key and by ear."""

from math import dist

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.bench.findings import find_photo
from defectlog.bench.measuring import keep_measurement, measure_photo
from defectlog.web.records import reading, store, transaction
from tests.browser.fingers import Fingers
from tests.browser.lid import NOON
from tests.browser.room import DESK, PHONE

pytestmark = pytest.mark.browser

# On the lid, without its edge and the card; its pinholes are 0.9 mm across.
SPREAD_OUT = tuple((x, y) for x in range(100, 1100, 50) for y in range(120, 420, 50))
REGION = ((60, 80), (1120, 80), (1120, 430), (60, 430))
WHY = "smaller than asked for"


@pytest.fixture(autouse=True)
def measured(workshop, number):
    """The lid measured for voids from 3 mm, so that its pinholes are looked at and not counted."""
    with workshop.app_context():
        found = measure_photo(
            find_photo(reading(), number), store(), region=REGION, look="bright", smallest_mm=3
        )
        with transaction() as session:
            keep_measurement(session, number, found, region=REGION, at=NOON)
    assert sum(one.why == WHY for one in found.rejected) >= 5
    return found


def test_a_tap_on_what_was_turned_away_says_why(enter, measured):
    room = enter(PHONE)
    marks = room.page.locator(".overlay .turned")
    expect(marks).to_have_count(0)
    room.page.locator("#open-marks").click()
    room.page.locator("#rejected").click()
    expect(marks).to_have_count(len(measured.rejected))
    room.page.locator("#close-panel").click()

    spot = next(one for one in measured.rejected if one.why == WHY)
    Fingers(room.page).tap(room.at((spot.x, spot.y)))
    expect(room.page.locator("#hint")).to_contain_text(f"mm across: {WHY}.")
    expect(room.page.locator(".overlay .turned .is-selected").first).to_be_attached()
    expect(room.page.locator(".rejected details[open] summary")).to_contain_text(WHY)
    assert room.kept["marks"] == []

    # The reason is there until it is put down, for as long as somebody reads.
    spots = [(one.x, one.y) for one in measured.rejected]
    bare = max(SPREAD_OUT, key=lambda at: min(dist(at, one) for one in spots))
    Fingers(room.page).tap(room.at(bare))
    expect(room.page.locator("#hint")).to_have_text("")
    expect(room.page.locator(".overlay .turned .is-selected")).to_have_count(0)


def test_a_slider_under_each_reason_says_the_same_by_keys(enter, measured):
    room = enter(DESK)
    toggle = room.page.locator("#rejected")
    toggle.focus()
    toggle.press("Enter")
    expect(toggle).to_have_attribute("aria-pressed", "true")
    expect(toggle).to_be_focused()

    summary = room.page.locator(".rejected summary", has_text=WHY)
    summary.focus()
    summary.press("Enter")
    room.page.keyboard.press("Tab")
    slider = room.page.locator(".rejected details[open] input")
    expect(slider).to_be_focused()
    spots = [one for one in measured.rejected if one.why == WHY]
    expect(slider).to_have_attribute("aria-valuetext", f"none yet of {len(spots)}")
    slider.press("ArrowRight")
    expect(room.page.locator("#hint")).to_contain_text(WHY)
    expect(room.page.locator(".overlay .turned .is-selected").first).to_be_attached()
    slider.press("End")
    expect(slider).to_have_attribute("aria-valuetext", f"{len(spots)} of {len(spots)}")
    assert room.accessibility_faults() == []

    slider.press("Escape")
    expect(room.page.locator("#hint")).to_have_text("")
    expect(room.page.locator(".overlay .turned .is-selected")).to_have_count(0)

    toggle.press("Enter")
    expect(room.page.locator(".overlay .turned")).to_have_count(0)
    expect(room.page.locator(".rejected")).to_have_count(0)


def test_the_letter_t_shows_and_hides_it(enter, measured):
    room = enter(DESK)
    room.page.locator("#picture").press("t")
    expect(room.page.locator(".overlay .turned")).to_have_count(len(measured.rejected))
    room.page.locator("#picture").press("t")
    expect(room.page.locator(".overlay .turned")).to_have_count(0)


def test_the_figure_leads_to_how_it_was_made(enter):
    room = enter(DESK)
    room.page.locator("#result summary", has_text="How it was measured").click()
    room.page.get_by_role("link", name="How the figure is made").click()
    expect(room.page.get_by_role("heading", level=1)).to_have_text("How the figure is made")
    expect(room.page.get_by_text(WHY)).to_be_visible()
    picture = room.page.get_by_alt_text("The photo in grey")
    picture.scroll_into_view_if_needed()
    room.page.wait_for_function("e => e.complete", arg=picture.element_handle())
    assert picture.evaluate("e => e.naturalWidth") == 1200
    assert room.accessibility_faults() == []


def test_the_pictures_of_the_steps_are_no_wider_than_a_phone(enter):
    room = enter(PHONE)
    room.page.goto(f"{room.url}/measurements/{room.kept['measurements'][0]['id']}/how")
    assert room.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert room.accessibility_faults() == []


def test_an_earlier_measurement_comes_with_its_figure_in_view(enter, measured):
    room = enter(PHONE)
    room.page.locator("#open-marks").click()
    room.page.locator("#measure").click()
    earlier = room.page.locator("#earlier-list button")
    expect(earlier).to_have_count(1, timeout=60_000)
    share = earlier.locator("b").inner_text()
    earlier.click()
    expect(room.page.locator(".result__name")).to_contain_text("an earlier measurement")
    expect(room.page.locator(".result__figure")).to_have_text(share)
    expect(room.page.locator(".result__figure")).to_be_in_viewport()
    expect(room.page.locator("#hint")).to_contain_text(share)
