"""A trial by finger and by mouse: planned, its first panel started, its verdict given."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, Page, expect

from defectlog.bench.trial_deal import TrialPlan, plan_trial
from defectlog.bench.trials import start_run
from defectlog.records import Part, TrialResult
from defectlog.web.records import transaction
from tests.browser.fingers import Watch
from tests.browser.room import DESK, PHONE
from tests.browser.test_own import press, sound
from tests.builders import NOON, make_photo
from tests.measured import add_measurement, add_series

pytestmark = pytest.mark.browser


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def page(request: pytest.FixtureRequest, chromium: Browser) -> Any:
    context = chromium.new_context(**request.param)
    opened = context.new_page()
    opened.set_default_timeout(15_000)
    watch = Watch(opened)
    watch.begin()
    yield opened
    seen = watch.seen()
    context.close()
    assert seen == []


def test_a_trial_is_planned_and_its_first_panel_started(
    page: Page, workshop: Flask, address: str, part_id: int, tmp_path: Path
) -> None:
    with workshop.app_context(), transaction() as session:
        part = session.get_one(Part, part_id)
        add_series(session, part, [0.0019, 0.002, 0.0022, 0.0021], tack_adhesive="none")

    page.goto(f"{address}/trials/")
    assert sound(page) == []
    page.get_by_role("link", name="Plan a trial").first.click()
    page.get_by_label("What do you want to know").fill("Does tack adhesive cost voids?")
    page.get_by_label("Day-hatch lid").check()
    page.get_by_label("What is changed from panel to panel").select_option("tack_adhesive")
    page.get_by_label("What it is judged by").select_option(TrialResult.VOIDS.value)
    assert sound(page) == []
    press(page, "On to the settings")

    page.locator("input[name=setting-2][value=light]").check()
    page.get_by_label("Smallest difference that matters").fill("0,1")
    press(page, "Work out the number")
    expect(page.get_by_text("of each setting,")).to_be_visible()
    assert sound(page) == []
    page.get_by_label("Panels of each setting").fill("2")
    press(page, "Keep the trial")

    expect(page.get_by_role("button", name="Start panel 1, tack adhesive:")).to_be_visible()
    assert sound(page) == []
    press(page, "Start panel 1")
    expect(page.get_by_role("link", name="Panel 1 of trial")).to_be_visible()
    page.goto(f"{page.url.split('?')[0]}/sheet")
    expect(page.get_by_text("Keep to that setting")).to_be_visible()


def test_the_verdict_stands_with_all_its_panels(
    page: Page, workshop: Flask, address: str, part_id: int
) -> None:
    plan = TrialPlan(
        part_id=part_id,
        question="Does tack adhesive cost voids?",
        fact="tack_adhesive",
        settings=("none", "light"),
        result=TrialResult.VOIDS,
        smallest_difference=0.001,
        per_setting=2,
    )
    with workshop.app_context(), transaction() as session:
        trial = plan_trial(session, plan, at=NOON)
        for run in trial.runs:
            build = start_run(session, trial.id, run.number, at=NOON)
            value = {"none": 0.002, "light": 0.005}[run.value] + 0.0001 * run.block
            add_measurement(session, make_photo(session, build), value)
        number = trial.id

    page.goto(f"{address}/trials/{number}")
    press(page, "Give the verdict")

    expect(page.get_by_text("points higher").first).to_be_visible()
    expect(
        page.get_by_role("group", name="Void fraction, tool side at demould of every")
    ).to_have_count(1)
    assert sound(page) == []
    # One tab stop for the chart, then the arrow keys; every dot leads to the build of its panel.
    dots = page.get_by_role("link", name="Panel").and_(page.locator("a.dot:visible"))
    dots.last.focus()
    page.keyboard.press("ArrowLeft")
    expect(dots.nth(2)).to_be_focused()
    expect(page.locator(".chart__tip")).to_contain_text("build ")
    expect(dots.nth(2)).to_have_attribute("href", re.compile(r"^/builds/\d+$"))
