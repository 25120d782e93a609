"""Measuring in a hurry: a tap too many, another region meanwhile, another tab, closed too soon."""

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.bench.measuring import keep_scale
from defectlog.measure.lengths.scale import NO_SCALE
from defectlog.web.records import transaction
from tests.browser.lid import NOON
from tests.browser.room import DESK, PHONE

pytestmark = pytest.mark.browser


def outline(room, *corners) -> None:
    room.tool("region")
    for corner in (*corners, corners[0]):
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#region-words")).to_contain_text("Inside the region")


def test_a_region_drawn_while_it_measures_gets_no_figure_of_another(enter):
    room = enter(DESK)
    held = []
    room.page.route("**/measurements", lambda route: held.append(route))
    room.page.locator("#measure").click()
    outline(room, (620, 120), (1100, 120), (1100, 420))
    held[0].continue_()
    room.page.unroute("**/measurements")

    expect(room.page.locator("#hint")).to_contain_text(
        "As it was outlined before: Void fraction", timeout=60_000
    )
    expect(room.page.locator("#result")).to_have_text("Not measured like this yet.")
    expect(room.page.locator("#earlier-list li")).to_have_count(1)


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_the_second_tap_of_a_double_one_neither_closes_nor_answers_a_sheet(enter, device):
    room = enter(device)
    if room.page.locator("#open-marks").is_visible():
        room.page.locator("#open-marks").click()
    room.page.locator("#measure").click()
    log = room.page.locator("#log-finding")
    log.wait_for(timeout=60_000)
    log.dblclick()

    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.wait_for_timeout(500)
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    assert room.kept["marks"] == []
    room.choose("Pinholes on the tool side")
    assert room.mark()["kind"] == "pinholes-tool"


def test_a_threshold_closed_before_it_was_measured_is_dropped(enter):
    room = enter(DESK)
    room.page.locator("#live-open").click()
    slider = room.page.locator("#live-threshold")
    expect(slider).to_be_enabled(timeout=60_000)
    slider.press("ArrowRight")
    room.page.locator("#live-close").click()

    # By keys it rests for 0.9 s before it measures; a fault in the page fails the test.
    room.page.wait_for_timeout(1500)
    assert room.kept["measurements"] == []


def test_the_scale_beside_a_new_figure_is_the_one_it_was_measured_by(enter, workshop, number):
    room = enter(DESK)
    expect(room.page.locator("#scale-words")).to_contain_text("from the card")
    with workshop.app_context(), transaction() as session:  # in another tab
        keep_scale(session, number, NO_SCALE, NOON)
    room.page.locator("#measure").click()

    expect(room.page.locator("#result")).to_contain_text("no scale", timeout=60_000)
    expect(room.page.locator("#scale-words")).to_have_text("No scale: sizes are in pixels")
