"""The shop's own knowledge by finger and by mouse: a check answered, a note, a kind, a file."""

from pathlib import Path
from typing import Any

import pytest
from flask import Flask

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, Page, expect

from defectlog.bench.fixes import record_fix
from defectlog.records import CheckDone, Elsewhere, FixDone, HouseNote, OwnFix, OwnKind, Photo
from defectlog.web.records import transaction
from tests.browser.fingers import Watch
from tests.browser.room import DESK, PHONE, grave_faults
from tests.builders import NOON, make_finding

pytestmark = pytest.mark.browser

LEAST_TARGET_PX = 48
SHARED = """{"format": "defectlog knowledge", "version": 1,
 "exported_at": "2026-03-02T12:00:00+00:00", "shop": {"uid": "0123456789ab", "name": "Tern Yard"},
 "kinds": [], "causes": [], "notes": [], "fixes_held": [],
 "causes_confirmed": [{"kind": "dry-spot", "cause": "gelled", "confirmed": 7, "of": 9}]}"""


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def page(request: pytest.FixtureRequest, chromium: Browser) -> Any:
    context = chromium.new_context(**request.param, accept_downloads=True)
    opened = context.new_page()
    opened.set_default_timeout(15_000)
    watch = Watch(opened)
    watch.begin()
    yield opened
    # A form that is refused on purpose comes back with its status; nothing else may be wrong.
    seen = [fault for fault in watch.seen() if not fault.startswith(("400 ", "422 "))]
    context.close()
    assert seen == []


@pytest.mark.parametrize("page", [DESK], ids=["desk"], indirect=True)
def test_back_after_a_refused_form_shows_it_as_it_was_typed(page: Page, address: str) -> None:
    page.goto(f"{address}/workshop/print-check")
    page.fill("[name=across_mm]", "12 cm")
    page.fill("[name=down_mm]", "120")
    page.locator("main form button").first.click()
    expect(page.locator("main")).to_contain_text("Nothing was saved yet")
    page.goto(f"{address}/guide/")

    page.go_back()

    expect(page.locator("[name=across_mm]")).to_have_value("12 cm")
    expect(page.locator("main")).to_contain_text("Nothing was saved yet")


@pytest.fixture
def finding(workshop: Flask, number: int) -> int:
    """A finding on a photo, with a fix on record."""
    with workshop.app_context(), transaction() as session:
        made = make_finding(session, session.get_one(Photo, number))
        record_fix(session, made.id, "Sanded back, wetted out", minutes=35, at=NOON)
        return made.id


def sound(page: Page) -> list[str]:
    """What is wrong with the page as it stands: for a reader, too wide, or hard to hit."""
    page.wait_for_load_state("networkidle")
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    small = page.eval_on_selector_all(
        "main button, main .button, main input:not([type=hidden]), main textarea, main select",
        f"""found => found.filter((one) => one.offsetParent && !one.closest(".taps")
            && (one.closest("label") ?? one).getBoundingClientRect().height
              < {LEAST_TARGET_PX} - 0.5)
            .map((one) => one.outerHTML.slice(0, 90))""",
    )
    return [*grave_faults(page), *(["too wide"] if wide > 0 else []), *small]


def press(page: Page, name: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=name).first.click()


def kept(workshop: Flask, table: type) -> list[Any]:
    with workshop.extensions["defectlog"][0].read() as session:
        return session.query(table).order_by(table.id).all()


def test_a_check_is_answered_beside_it_and_the_fix_is_looked_at_again(
    page: Page, workshop: Flask, address: str, finding: int
) -> None:
    page.goto(f"{address}/findings/{finding}")
    next_check = page.locator(".next-check")
    first = next_check.inner_text()
    next_check.get_by_label("Remark").fill("dull all over")
    with page.expect_navigation():
        next_check.get_by_role("button", name="It did not").click()

    expect(page.get_by_text("The check is on record")).to_be_visible()
    assert page.locator(".next-check").inner_text() != first
    done = kept(workshop, CheckDone)[-1]
    assert (done.finding_id, done.is_positive, done.seen) == (finding, False, "dull all over")

    press(page, "It held")
    assert kept(workshop, FixDone)[-1].result.value == "held"
    for summary in page.locator(".cause summary").all():
        summary.click()
    expect(page.get_by_text("It did not show that").first).to_be_visible()
    assert sound(page) == []


def test_a_note_is_written_changed_deleted_and_brought_back(
    page: Page, workshop: Flask, address: str
) -> None:
    page.goto(f"{address}/guide/dry-spot")
    page.get_by_label("A note for whoever meets this next").fill("Vent low.")
    press(page, "Keep the note")
    page.get_by_role("link", name="Edit note: Vent low.").first.click()
    assert sound(page) == []
    page.get_by_label("Note", exact=True).fill("Vent at the low corner.")
    press(page, "Save note")
    press(page, "Delete note: Vent at the low corner.")
    page.get_by_text("Deleted notes").click()
    assert sound(page) == []
    press(page, "Bring back note: Vent at the low corner.")

    note = kept(workshop, HouseNote)[-1]
    assert note.words == "Vent at the low corner." and note.deleted_at is None


def test_an_own_kind_gets_a_cause(
    page: Page, workshop: Flask, address: str, request: pytest.FixtureRequest
) -> None:
    on_phone = "phone" in request.node.name
    page.goto(f"{address}/guide/own/new")
    page.get_by_text("Which face is it on?").first.click()
    page.get_by_label("Tool side: the face").check()
    assert sound(page) == []
    page.get_by_label("Name").fill("Kelp print" if on_phone else "Knot print")
    page.get_by_label("Two letters").fill("kp" if on_phone else "kn")
    page.get_by_label("How it looks").fill("Green and branched.")
    page.get_by_label("What it is").fill("Weed on the mould shows through.")
    press(page, "Save kind")
    expect(page.get_by_text("No cause is written down")).to_be_visible()
    assert sound(page) == []

    page.get_by_role("link", name="Write the first one down").click()
    assert sound(page) == []
    page.get_by_label("Cause", exact=True).fill("Mould not scrubbed")
    page.get_by_label("A check: what to look at").fill("Wipe the mould with a white cloth.")
    press(page, "Save cause")
    # Half a check is no check: the form comes back with what was typed.
    expect(page.get_by_role("alert")).to_contain_text("The time of the check is missing")
    assert sound(page) == []
    page.get_by_label("What is seen if this is the cause").fill("the cloth turns green")
    page.get_by_label("Time of the check").fill("2,5")
    press(page, "Save cause")
    expect(page.get_by_role("heading", name="Mould not scrubbed")).to_be_visible()
    assert sound(page) == []
    own = kept(workshop, OwnKind)[-1]
    assert own.code == ("KP" if on_phone else "KN")
    assert own.answers == {"face": ["tool"]}


def test_a_fix_of_the_shops_own_says_what_can_hurt(
    page: Page, workshop: Flask, address: str, request: pytest.FixtureRequest
) -> None:
    page.goto(f"{address}/guide/dry-spot")
    page.get_by_role("link", name="Add a fix of your own").click()
    title = f"Wipe and coat, {request.node.name}"[:80]
    page.get_by_label("Fix", exact=True).fill(title)
    page.get_by_label("Rework: as the drawing has it").check()
    page.get_by_label("When not to").fill("The nail leaves a dent.")
    page.get_by_label("Step 1", exact=True).fill("Wipe it with acetone.")
    press(page, "Save fix")
    expect(page.get_by_role("alert")).to_contain_text("“acetone” in step 1 can hurt somebody")
    # The list of what can hurt lies open beside the step that needs it.
    page.locator("[name=cautions-1][value=solvent]").check()
    assert sound(page) == []
    press(page, "Save fix")
    expect(page.get_by_role("heading", name=title)).to_be_visible()
    assert sound(page) == []
    assert kept(workshop, OwnFix)[-1].steps[0]["cautions"] == ["solvent"]


def test_a_file_goes_out_and_another_shops_comes_in(
    page: Page, workshop: Flask, address: str, tmp_path: Path
) -> None:
    page.goto(f"{address}/workshop/")
    page.get_by_role("link", name="Share what the shop knows").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Save as a file").click()
    own = tmp_path / "own.json"
    download.value.save_as(own)
    page.get_by_label("File of the other shop").set_input_files(own)
    press(page, "Take it in")
    expect(page.get_by_role("alert")).to_contain_text("saved by this very workshop")
    assert sound(page) == []

    other = tmp_path / "tern.json"
    other.write_text(SHARED, "utf-8")
    page.get_by_label("File of the other shop").set_input_files(other)
    press(page, "Take it in")
    expect(page.get_by_text("Leave its counts out")).to_be_visible()
    assert sound(page) == []
    assert [shop.name for shop in kept(workshop, Elsewhere)] == ["Tern Yard"]

    page.get_by_role("link", name="Remove all that came from it").click()
    assert sound(page) == []
    press(page, "Remove it")
    expect(page.get_by_text("Removed what came from Tern Yard")).to_be_visible()
    assert kept(workshop, Elsewhere) == []
