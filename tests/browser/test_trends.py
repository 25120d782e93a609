"""A chart by keyboard: from point to point, and from one outside to what was different."""

from typing import Any

import pytest
from flask import Flask

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, expect

from defectlog.records import Part
from defectlog.web.records import transaction
from tests.browser.fingers import Watch
from tests.browser.room import DESK, PHONE, grave_faults
from tests.measured import add_build

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_a_build_outside_is_reached_by_keys_and_says_what_was_different(
    device: dict[str, Any], chromium: Browser, workshop: Flask, address: str, part_id: int
) -> None:
    with workshop.app_context(), transaction() as session:
        part = session.get_one(Part, part_id)
        if not part.builds:
            for void in (*[0.020, 0.022, 0.021] * 3, 0.080, *[0.021, 0.023] * 3):
                add_build(session, part, void, ambient_c=31 if void == 0.080 else 20)
    page = chromium.new_context(**device).new_page()
    watch = Watch(page)
    watch.begin()
    page.goto(f"{address}/trends/{part_id}")

    page.locator("[data-chart=result-chart] svg:visible a.dot").last.focus()
    for _ in range(6):
        page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")

    expect(page).to_have_url(f"{address}/trends/{part_id}#build-10")
    expect(page.locator("#build-10")).to_contain_text("Air temperature: 31")
    page.evaluate("for (const folded of document.querySelectorAll('details')) folded.open = true")
    assert grave_faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    seen = watch.seen()
    page.context.close()
    assert seen == []
