"""The threshold under the finger: the figure follows, and letting go keeps one of record."""

import re

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from tests.browser.fingers import Fingers
from tests.browser.room import DESK, PHONE

pytestmark = pytest.mark.browser


def opened(room):
    """The room with the threshold in the hand, whatever the window."""
    if room.page.locator("#open-marks").is_visible():
        room.page.locator("#open-marks").click()
    room.page.locator("#live-open").click()
    expect(room.page.locator("#live-threshold")).to_be_enabled(timeout=60_000)
    return room.page.locator("#live-threshold")


def shown(room) -> float:
    """The live figure, in per cent."""
    return float(room.page.locator("#live-share").inner_text().split()[0])


def counted_px(room) -> int:
    return room.page.evaluate(
        """() => {
          const canvas = document.querySelector(".live-canvas");
          const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
          let sum = 0;
          for (let i = 3; i < data.length; i += 4) sum += data[i] > 0;
          return sum;
        }"""
    )


def test_a_finger_moves_the_threshold_and_letting_go_measures_with_it(enter):
    room = enter(PHONE)
    slider = opened(room)
    box = slider.bounding_box()
    x, y = box["x"], box["y"] + box["height"] / 2
    before, area = shown(room), counted_px(room)

    fingers = Fingers(room.page)
    thumb = x + box["width"] * (float(slider.input_value()) - 5) / 90
    fingers.put("touchStart", (thumb, y))
    seen = []
    for share in (0.45, 0.5, 0.55, 0.6):
        fingers.put("touchMove", (x + box["width"] * share, y))
        room.page.wait_for_timeout(60)
        seen.append(shown(room))
    assert room.kept["measurements"] == []  # nothing is kept while the finger is down
    less = counted_px(room)
    fingers.put("touchEnd")

    assert seen == sorted(seen, reverse=True) and seen[-1] < before
    assert less < area
    expect(room.page.locator("#live-agrees")).to_contain_text("It agrees", timeout=60_000)
    (kept,) = room.kept["measurements"]
    assert kept["threshold"] == pytest.approx(float(slider.input_value()) / 100)
    assert 100 * kept["void_fraction"] == pytest.approx(shown(room), abs=0.1)
    assert "set by hand" in kept["settings_words"]
    expect(room.page.locator("#result")).to_contain_text("threshold set by hand")
    assert room.accessibility_faults() == []

    room.page.locator("#live-auto").click()
    expect(room.page.locator("#result .result__name")).to_have_text("Void fraction", timeout=60_000)
    assert room.kept["measurements"][0]["threshold"] is None
    expect(room.page.locator("#live")).to_be_hidden()
    expect(room.page.locator(".live-canvas")).to_be_hidden()


def test_keys_move_it_and_a_screen_reader_hears_the_figure_when_it_rests(enter):
    room = enter(DESK)
    slider = opened(room)
    expect(slider).to_be_focused()
    started = float(slider.input_value())

    for _ in range(4):
        room.page.keyboard.press("ArrowRight")
    assert float(slider.input_value()) == started + 2
    # The share of light a dark void lacks; of a bright one, what it has more than the surface.
    share = (started + 2) / 100
    words = room.page.locator("#live-words")
    expect(words).to_contain_text(
        re.compile(
            rf"{100 * share:g}.% darker|"
            rf"{100 * share / (1 - share):.1f}.% brighter"
        )
    )
    said = [room.page.locator(f"#live-{part}").inner_text() for part in ("words", "share", "count")]
    expect(slider).to_have_attribute("aria-valuetext", "{}: {}, {}".format(*said))
    expect(room.page.locator("#hint")).to_contain_text("Void fraction", timeout=60_000)
    expect(room.page.locator("#live-agrees")).to_contain_text("It agrees")

    (kept,) = room.kept["measurements"]  # four presses, one figure of record
    assert kept["threshold"] == pytest.approx((started + 2) / 100)
    assert room.accessibility_faults() == []


def test_an_area_left_out_is_drawn_kept_and_taken_back(enter):
    room = enter(DESK)
    room.page.locator("#leave-out-tool").click()
    corners = [(300, 200), (600, 200), (600, 400), (300, 400), (300, 200)]
    for corner in corners:
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#left-out-list li")).to_have_count(1)
    expect(room.page.locator(".overlay .left-out")).to_have_count(1)
    room.page.locator("#measure").click()
    expect(room.page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    (kept,) = room.kept["measurements"]
    (outline,) = kept["leave_out"]
    for point, meant in zip(outline, corners, strict=False):
        assert point == pytest.approx(meant, abs=1.5)
    room.open()
    expect(room.page.locator(".overlay .left-out")).to_have_count(1)

    room.page.get_by_role("button", name="Take left-out area 1 back").click()
    expect(room.page.locator(".overlay .left-out")).to_have_count(0)
    expect(room.page.locator("#leave-out-tool")).to_be_focused()
    room.page.locator("#measure").click()
    expect(room.page.locator("#earlier-list")).to_contain_text("left out 1 area", timeout=60_000)
