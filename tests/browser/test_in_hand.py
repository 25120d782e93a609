"""Something wrong in one hand, the phone in the other: from the Bench to a cause, a check, a fix.

Ten taps are well under a minute: a question is read and answered in about five seconds.
"""

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Page, expect

from tests.browser.room import PHONE

pytestmark = pytest.mark.browser

MOST_TAPS = 10
# What a person with that part in hand sees and feels, said truthfully; "don't know" for the rest.
IN_HAND = {
    "peel-tear": (
        "Bag side",
        "A patch with a border",
        "Rough",
        "Paler or white",
        "Broken or torn ends",
        "Anywhere",
        "Fibres or shreds hang on it",
        "Nothing I know of",
    ),
    "tacky-undercure": (
        "Tool side",
        "Sticky or greasy",
        "Nothing: it stays as it was",
        "The nail leaves a dent",
        "Nothing I know of",
        "The same",
    ),
    "pinholes-tool": (
        "Tool side",
        "Small spots",
        "Small holes",
        "Paler or white",
        "Nothing: it stays as it was",
        "As hard as",
        "It breaks at points",
        "Anywhere",
        "Nothing I know of",
    ),
}


class Thumb:
    """Taps, counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, link, *, leads_on: bool = True) -> None:
        """Tap a link, one that leads to another page or one to a place on this."""
        assert link.bounding_box()["height"] >= 48
        self.taps += 1
        if leads_on:
            with self.page.expect_navigation():
                link.tap()
        else:
            link.tap()


@pytest.fixture
def page(chromium, part_id: int):
    context = chromium.new_context(**PHONE)
    context.set_default_timeout(10_000)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("kind", IN_HAND)
def test_from_the_bench_to_a_cause_a_check_and_a_fix(page: Page, address: str, kind: str) -> None:
    thumb = Thumb(page)
    page.goto(address)
    thumb.tap(page.get_by_role("link", name="I don’t know what it is"))
    while page.locator(".answers").count():
        answers = [page.locator(".answer", has_text=words) for words in IN_HAND[kind]]
        thumb.tap(next((a for a in answers if a.count() == 1), page.get_by_text("Don’t know")))

    thumb.tap(page.get_by_role("link", name="Why, and what to do"))
    assert page.url.endswith(f"/guide/{kind}")
    thumb.tap(
        page.get_by_role("navigation", name="On this page").get_by_text("Causes"), leads_on=False
    )
    expect(page.locator(".cause").first).to_be_in_viewport()
    expect(page.locator(".cause .checks li").first).to_contain_text("Check,")
    page.locator(".cause .leads a[href^='#fix-']").first.scroll_into_view_if_needed()
    thumb.tap(page.locator(".cause .leads a[href^='#fix-']").first, leads_on=False)
    expect(page.locator(".fix:target")).to_be_in_viewport()
    expect(page.locator(".fix:target .not-when")).to_be_attached()
    expect(page.locator(".fix:target .steps > li").first).to_be_attached()
    assert thumb.taps <= MOST_TAPS, f"{thumb.taps} taps"
