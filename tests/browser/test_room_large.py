"""A photo of 48 megapixels: seen at once, and to its last pixel for whoever comes close."""

import io

import numpy as np
import pytest
from PIL import Image

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from tests.browser.room import DESK, PHONE
from tests.taken_in import photo_taken_in

pytestmark = pytest.mark.browser

WIDTH_PX, HEIGHT_PX = 8000, 6000
STRIPES_PX = 96

# How far apart light and dark are in the middle of the view, of 255.
CONTRAST = """() => {
  const canvas = document.querySelector("#picture canvas");
  const [x, y] = [Math.round(canvas.width / 2), Math.round(canvas.height / 2)];
  const { data } = canvas.getContext("2d").getImageData(x - 20, y, 40, 1);
  const greys = data.filter((_, i) => i % 4 === 0);
  return Math.max(...greys) - Math.min(...greys);
}"""


@pytest.fixture(scope="module")
def large(workshop, part_id) -> int:
    """Noise made large, with stripes of one pixel in its middle that no smaller copy can hold."""
    small = np.random.default_rng(1).integers(90, 160, (60, 80), dtype=np.uint8)
    picture = np.asarray(Image.fromarray(small).resize((WIDTH_PX, HEIGHT_PX))).copy()
    top, left = (HEIGHT_PX - STRIPES_PX) // 2, (WIDTH_PX - STRIPES_PX) // 2
    stripes = np.where(np.arange(STRIPES_PX) % 2, 250, 5)
    picture[top : top + STRIPES_PX, left : left + STRIPES_PX] = stripes
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=95)
    return photo_taken_in(workshop, file.getvalue(), part_id=part_id, name="plug.jpg")


@pytest.mark.parametrize(
    "device", [PHONE | {"device_scale_factor": 2}, DESK], ids=["phone", "desk"]
)
def test_coming_close_shows_the_full_pixels_and_fetches_one_screen_of_them(enter, large, device):
    room = enter(device, reduced_motion="reduce")
    room.go_to(large)
    fetched = []
    room.page.on("response", lambda r: "/tiles/" in r.url and fetched.append(r.status))
    assert room.page.evaluate(CONTRAST) < 100
    for _ in range(
        9
    ):  # 1.4 nine times is 21: two pixels of the screen or more for one of the photo
        room.page.locator("#zoom-in").click()
    for _ in range(150):
        if room.page.evaluate(CONTRAST) > 150:
            break
        room.page.wait_for_timeout(100)

    assert room.page.evaluate(CONTRAST) > 150  # the stripes are 245 apart; in a copy they are grey
    width, height = (
        device["viewport"][side] * device.get("device_scale_factor", 1)
        for side in ("width", "height")
    )
    assert set(fetched) == {200}
    # 0.8 pixels of the screen for one of the photo at the least, and squares that overhang.
    assert len(fetched) <= (width / 0.8 / 512 + 2) * (height / 0.8 / 512 + 2)


def test_from_the_build_to_a_saved_finding_by_keys_alone(enter):
    room = enter(DESK, reduced_motion="reduce")
    page, keys = room.page, room.page.keyboard
    number = room.kept["photo"]["id"]
    page.goto(f"{room.address}{room.kept['photo']['build_url']}")
    for _ in range(80):
        keys.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('href')") == f"/photos/{number}":
            break
    keys.press("Enter")
    page.wait_for_selector("#room.is-ready")
    page.wait_for_selector("#first-picture", state="hidden")
    keys.press("s")
    expect(page.locator("#aim")).not_to_have_attribute("hidden", "")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Enter"):
        keys.press(key)
    expect(page.locator("#kind-find")).to_be_focused()
    keys.type("dry s")
    expect(page.locator("#kind-kinds .choice:visible")).to_have_count(1)
    with page.expect_response("**/marks"):
        keys.press("Enter")
    expect(page.locator("#hint")).to_contain_text("saved")
    assert room.accessibility_faults() == []

    keys.press("Escape")  # puts the tool down
    for _ in range(80):
        if page.evaluate("document.activeElement.matches('.mark-row__link')"):
            break
        keys.press("Tab")
    keys.press("Enter")
    page.wait_for_url("**/findings/*")
    assert room.mark()["kind"] == "dry-spot"
