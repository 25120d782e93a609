"""The key by finger on a phone and at a desk: taps, the way back, targets, a screen reader."""

from contextlib import contextmanager

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.browser.room import PHONE

pytestmark = pytest.mark.browser

SIZES = {"phone": (390, 844), "desk": (1440, 900)}
SMALL = """() => [...document.querySelectorAll("main a, main button, main summary")]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 48)
  .map((one) => one.textContent.trim())"""


@contextmanager
def opened(chromium, size, *, script=True):
    width, height = SIZES[size]
    context = chromium.new_context(
        viewport={"width": width, "height": height}, java_script_enabled=script
    )
    yield context.new_page()
    context.close()


def test_a_walk_without_script_and_back(chromium, address):
    with opened(chromium, "phone", script=False) as page:
        page.goto(f"{address}/guide/")
        page.get_by_role("link", name="I don’t know what it is").click()
        first = page.locator("h1").inner_text()
        page.get_by_role("link", name="Rough: cloth").click()
        assert page.locator("h1").inner_text() != first

        page.go_back()
        assert page.locator("h1").inner_text() == first
        assert page.get_by_text("You said").count() == 0


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "query",
    ["", "?feel=rough", "?feel=sticky&water=same&press=hard", "?feel=sticky&water=gone&press=hard"],
)
def test_it_can_be_hit_and_be_heard(chromium, address, size, query):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    with opened(chromium, size) as page:
        page.goto(f"{address}/guide/which{query}")
        page.evaluate("document.querySelectorAll('main details').forEach((d) => (d.open = true))")

        assert page.evaluate(SMALL) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        found = axe.Axe().run(page).response["violations"]
        assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []


def test_the_photo_room_asks_the_key_with_face_and_mark_known(enter):
    room = enter(PHONE)
    room.tool("spot")
    room.page.touchscreen.tap(*room.at((900, 300)))
    link = room.page.get_by_role("link", name="I don’t know what it is")
    # As laid out: where it lies on the screen has the rounding of its place too.
    assert link.evaluate("one => parseFloat(getComputedStyle(one).height)") >= 48

    with room.page.expect_popup() as beside:
        link.click()

    beside.value.get_by_text("from the photo").first.wait_for()
    said = beside.value.locator(".answered b").all_inner_texts()
    assert said == ["Tool side: the face that lay against the mould", "Small spots, one or many"]
    assert room.page.locator("#kind-sheet").is_visible()
