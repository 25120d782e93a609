"""The thumb bar holds all its tabs on every phone, each large enough for a gloved thumb."""

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

pytestmark = pytest.mark.browser

LEAST_PX = 48


@pytest.mark.parametrize("width", [320, 359, 360, 390, 430])
def test_every_tab_is_on_the_screen_and_large_enough(chromium, address, width):
    context = chromium.new_context(
        viewport={"width": width, "height": 640}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto(f"{address}/builds/")
    tabs = [tab.bounding_box() for tab in page.locator(".spine a").all()]
    words_cut = page.evaluate(
        "[...document.querySelectorAll('.spine a')].filter((a) => a.scrollWidth > a.clientWidth)"
        ".map((a) => a.textContent)"
    )
    context.close()

    assert len(tabs) == 7
    assert words_cut == []
    for tab in tabs:
        assert min(tab["width"], tab["height"]) >= LEAST_PX
        assert tab["x"] >= 0 and tab["x"] + tab["width"] <= width + 0.5
