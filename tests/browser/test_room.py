"""The photo room on a phone: fingers, gloves, and Wi-Fi that drops."""

import io
import math
import urllib.request

import numpy as np
import pytest
from PIL import Image

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from tests.browser.fingers import Fingers
from tests.browser.lid import PX_PER_MM
from tests.browser.room import DESK, PHONE, area, near

pytestmark = pytest.mark.browser


def test_a_finger_drawn_round_a_dry_spot_outlines_it(enter, photographed):
    room = enter(PHONE)
    room.tool("outline")

    Fingers(room.page).stroke(
        [room.at(point) for point in [*photographed.dry_spot, photographed.dry_spot[0]]]
    )
    expect(room.page.locator("#kind-sheet")).to_contain_text("mm across")
    expect(room.page.locator("#kind-title")).to_be_focused()  # no keyboard over the kinds
    room.choose("Dry spot")

    mark = room.mark()
    assert (mark["shape"], mark["kind"]) == ("outline", "dry-spot")
    # The finger's path is simplified to 2.5 px of the screen; 3 px of it are one pixel here.
    assert area(mark["points"]) == pytest.approx(area(photographed.dry_spot), rel=0.1)
    assert len(mark["points"]) < 40


def test_a_pinch_while_drawing_zooms_and_leaves_no_stray_mark(enter):
    room = enter(PHONE)
    transform = "document.querySelector('.overlay > g').getAttribute('transform')"
    for tool in ("outline", "line", "box", "spot"):
        room.page.locator("#zoom-fit").click()
        room.page.wait_for_timeout(500)
        before = room.page.evaluate(transform)
        room.tool(tool)
        Fingers(room.page).pinch((190, 380), start=40, end=120, drawn=30)
        room.page.wait_for_timeout(500)

        assert room.page.evaluate(transform) != before
        expect(room.page.locator("dialog[open]")).to_have_count(0)
        expect(room.page.locator(".overlay .is-drawing")).to_have_count(0)
    assert room.kept["marks"] == []


def test_a_slow_tap_of_a_glove_sets_a_spot_where_it_touched(enter):
    room = enter(PHONE)
    room.tool("spot")
    x, y = room.at((900, 300))
    fingers = Fingers(room.page)

    fingers.put("touchStart", (x, y))
    fingers.put("touchMove", (x + 6, y + 5))
    room.page.wait_for_timeout(900)
    fingers.put("touchEnd")
    room.choose("Pinholes on the tool side")

    assert near(room.mark()["points"][0], (900, 300), 2)


def test_a_second_mark_joins_an_open_finding_with_one_tap(enter):
    room = enter(PHONE)
    room.tool("spot")
    fingers = Fingers(room.page)
    fingers.tap(room.at((300, 200)))
    room.choose("Torn by the peel ply")

    fingers.tap(room.at((500, 260)))
    room.choose("finding")

    first, second = room.kept["marks"]
    assert first["finding_id"] == second["finding_id"]


def test_everything_a_thumb_must_hit_is_48_px_high_and_wide(enter):
    room = enter(PHONE)
    room.page.locator("#open-marks").click()
    room.page.locator("#measure-settings summary").click()
    small = room.page.evaluate(
        """() => [...document.querySelectorAll("button, a[href], summary, label:has(input)")]
          .filter((element) => element.checkVisibility() && !element.matches(".skip"))
          .map((element) => [element.textContent.trim() || element.ariaLabel,
            Math.round(element.getBoundingClientRect().width),
            Math.round(element.getBoundingClientRect().height)])
          .filter(([, width, height]) => width < 48 || height < 48)"""
    )

    assert small == []


def test_what_is_drawn_while_the_network_is_away_waits_on_the_device(enter):
    room = enter(PHONE)
    room.page.route("**/marks", lambda route: route.abort())
    room.tool("spot")
    Fingers(room.page).tap(room.at((600, 200)))
    room.page.get_by_role("button", name="Dry spot").click()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")

    room.open()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")
    expect(room.page.locator(".overlay .is-unsent")).not_to_have_count(0)
    assert room.kept["marks"] == []

    room.page.unroute("**/marks")
    room.page.locator("#fault-again").click()
    expect(room.page.locator("#hint")).to_contain_text("saved")
    assert room.mark()["kind"] == "dry-spot"
    assert room.page.evaluate("localStorage.length") == 0


def test_an_answer_lost_on_its_way_does_not_make_two_marks(enter):
    room = enter(PHONE)

    def lose(route):
        route.fetch()
        route.abort()

    room.page.route("**/marks", lose)
    room.tool("spot")
    Fingers(room.page).tap(room.at((600, 200)))
    room.page.get_by_role("button", name="Dry spot").click()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")
    room.page.unroute("**/marks")
    room.page.locator("#fault-again").click()
    expect(room.page.locator("#hint")).to_contain_text("saved")

    assert len(room.kept["marks"]) == 1


def test_two_taps_and_a_length_with_a_comma_scale_the_photo(enter):
    room = enter(PHONE)
    room.page.locator("#scale-chip").click()
    room.page.get_by_role("button", name="No scale").click()
    expect(room.page.locator("#scale-chip")).to_contain_text("No scale")
    room.page.locator("#scale-chip").click()
    room.page.get_by_role("button", name="Point out a known length").click()
    fingers = Fingers(room.page)
    fingers.tap(room.at((200, 120)))
    fingers.tap(room.at((1000, 120)))
    room.page.locator("#length").fill("abc")
    room.page.get_by_role("button", name="Save the scale").click()
    expect(room.page.locator("#length-fault")).to_contain_text("not a length")
    room.page.locator("#length").fill("101,5")
    room.page.get_by_role("button", name="Save the scale").click()
    expect(room.page.locator("#scale-chip")).to_contain_text("from two points")

    scale = room.kept["scale"]
    assert scale["length_mm"] == 101.5
    # 800 px over 101.5 mm; a tap is good to about two pixels of the photo here.
    assert scale["px_per_mm"] == pytest.approx(800 / 101.5, rel=0.01)
    # A finger is taken to be up to 8 px of the screen off at either end, a length half a mm.
    apart = math.dist(room.at((200, 120)), room.at((1000, 120)))
    doubt = 100 * math.hypot(math.sqrt(2) * 8 / apart, 0.5 / 101.5)
    assert scale["uncertainty_pct"] == pytest.approx(doubt, rel=0.02)


def test_measuring_shows_figures_and_lays_what_was_counted_over_the_photo(enter):
    room = enter(PHONE)
    assert room.kept["scale"]["px_per_mm"] == pytest.approx(PX_PER_MM, rel=0.03)
    room.page.locator("#go-measure").click()
    expect(room.page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    (measured,) = room.kept["measurements"]
    expect(room.page.locator(".result__figure")).to_have_text(measured["void_pct_words"])
    for words in ("interval_words", "count_words", "inspected_words"):
        expect(room.page.locator("#result")).to_contain_text(measured[words])
    room.page.locator(".sizes summary").click()
    expect(room.page.locator(".sizes tbody tr")).to_have_count(len(measured["sizes"]))
    expect(room.page.locator(".sizes tbody")).to_contain_text(measured["sizes"][0]["size_words"])
    picture = room.page.locator(".overlay image").bounding_box()
    left, top = room.at((0, 0))
    assert (picture["x"], picture["y"]) == pytest.approx((left, top), abs=1)
    assert picture["width"] / picture["height"] == pytest.approx(1200 / 900, rel=0.01)

    with urllib.request.urlopen(f"{room.address}{measured['overlay_url']}") as answer:
        counted = np.asarray(Image.open(io.BytesIO(answer.read())).convert("RGBA"))[..., 0] == 226
    y, x = min(np.argwhere(counted), key=lambda place: math.dist(place, (400, 500)))
    room.page.locator("#close-panel").click()
    Fingers(room.page).tap(room.at((float(x), float(y))))
    expect(room.page.locator("#hint")).to_contain_text("Counted: ")
    expect(room.page.locator("#hint")).to_contain_text("from the edge of the inspected surface")

    room.page.locator("#open-marks").click()
    room.page.locator("#counted").click()
    expect(room.page.locator(".overlay image")).to_have_count(0)


def test_closing_the_sheet_keeps_the_drawing_until_it_is_dropped(enter):
    room = enter(PHONE)
    room.tool("outline")
    Fingers(room.page).stroke([room.at(p) for p in ((300, 200), (600, 200), (450, 400))])
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.get_by_role("button", name="Back", exact=True).click()

    room.page.locator("#draw-done").click()
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.get_by_role("button", name="Throw it away").click()

    expect(room.page.locator(".overlay .is-drawing")).to_have_count(0)
    assert room.kept["marks"] == []


def test_a_photo_is_deleted_only_after_a_second_question(enter):
    room = enter(PHONE)
    build = room.kept["photo"]["build_url"]
    room.page.get_by_role("button", name="Details").click()
    room.page.get_by_role("button", name="Delete this photo").click()
    room.page.get_by_role("button", name="Delete the photo").click()

    room.page.wait_for_url(f"**{build}")


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_no_serious_barrier_is_found_in_the_room_or_its_sheets(enter, device):
    room = enter(device)
    found = room.accessibility_faults()
    room.tool("spot")
    room.page.locator("#picture").click(position={"x": 150, "y": 300})
    found += room.accessibility_faults()
    room.choose("Dry spot")
    room.tool("look")
    room.page.locator("#scale-chip").click()
    found += room.accessibility_faults()
    room.page.keyboard.press("Escape")
    if device is PHONE:
        room.page.locator("#open-marks").click()
    found += room.accessibility_faults()

    assert found == []
