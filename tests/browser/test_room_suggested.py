"""What a measurement suggests: accepted, renamed or dismissed, and marked by nobody else."""

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.bench.findings import find_photo
from defectlog.bench.measuring import keep_measurement, measure_photo
from defectlog.web.records import reading, store, transaction
from tests.browser.lid import NOON
from tests.browser.room import DESK, PHONE

pytestmark = pytest.mark.browser

REGION = ((60, 80), (1120, 80), (1120, 430), (60, 430))


@pytest.fixture(autouse=True)
def measured(workshop, number):
    with workshop.app_context():
        found = measure_photo(find_photo(reading(), number), store(), region=REGION, look="bright")
        with transaction() as session:
            keep_measurement(session, number, found, region=REGION, at=NOON)
    assert found.count >= 3


def test_a_tap_accepts_and_the_mark_is_saved_once(enter):
    room = enter(PHONE)
    room.page.locator("#open-marks").tap()
    accept = room.page.get_by_role("button", name="Accept: ")
    expect(accept.first).to_be_visible()
    count = accept.count()
    assert room.kept["marks"] == []
    expect(room.page.locator(".overlay .is-suggested.line")).to_have_count(count)

    with room.page.expect_response("**/marks") as answer:
        accept.first.tap()
    assert answer.value.status == 201
    expect(accept).to_have_count(count - 1)
    assert len(room.kept["marks"]) == 1

    room.open()
    room.page.locator("#open-marks").tap()
    room.page.wait_for_load_state("networkidle")
    expect(accept).to_have_count(count - 1)


def test_dismissed_it_marks_nothing_and_stays_away(enter):
    room = enter(DESK)
    dismiss = room.page.get_by_role("button", name="Dismiss: ")
    expect(dismiss.first).to_be_visible()
    assert room.accessibility_faults() == []
    while dismiss.count():
        dismiss.first.press("Enter")
    expect(room.page.locator("#suggested")).to_be_hidden()
    room.open()
    room.page.wait_for_load_state("networkidle")
    expect(room.page.locator("#suggested")).to_be_hidden()
    assert room.kept["marks"] == []


def test_another_kind_is_asked_for_and_saved(enter):
    room = enter(DESK)
    room.page.get_by_role("button", name="Another kind: ").first.click()
    with room.page.expect_response("**/marks") as answer:
        room.page.locator("#kind-sheet").get_by_role("button", name="Blister").click()
    assert answer.value.status == 201
    assert room.mark()["kind"] == "blister"
