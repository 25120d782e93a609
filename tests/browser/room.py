"""The photo room as a person has it: the page, and the records behind it."""

import json
import math
import urllib.request
from collections.abc import Sequence
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.fingers import Spot, Watch
from tests.browser.lid import HEIGHT_PX, WIDTH_PX

PHONE = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1440, "height": 900}}


class Room:
    """One photo's room in one browser window."""

    def __init__(self, page: Page, address: str, number: int) -> None:
        self.page, self.address = page, address
        self.watch = Watch(page)
        self.watch.begin()
        self.go_to(number)

    def go_to(self, number: int) -> None:
        self.url = f"{self.address}/photos/{number}"
        self.open()

    def open(self) -> None:
        self.page.goto(self.url)
        self.page.wait_for_selector("#room.is-ready")
        self.page.wait_for_selector("#first-picture", state="hidden")

    @property
    def kept(self) -> dict[str, Any]:
        """What the records hold."""
        with urllib.request.urlopen(f"{self.url}/state") as answer:
            return json.load(answer)

    def mark(self) -> dict[str, Any]:
        (mark,) = self.kept["marks"]
        return mark

    def at(self, point: Spot) -> Spot:
        return place_of(self.page, point)

    def tool(self, name: str) -> None:
        self.page.locator(f".strip [data-tool={name}]").click()

    def choose(self, kind: str) -> None:
        with self.page.expect_response("**/marks") as answer:
            self.page.get_by_role("button", name=kind).click()
        assert answer.value.status == 201
        expect(self.page.locator("#hint")).to_contain_text("saved")

    def accessibility_faults(self) -> list[str]:
        return grave_faults(self.page)


def place_of(page: Page, point: Spot) -> Spot:
    """Where a point of the photo lies on the page while the whole photo is shown."""
    box = page.locator("#picture").bounding_box()
    scale = min(box["width"] / WIDTH_PX, box["height"] / HEIGHT_PX)
    left = box["x"] + (box["width"] - WIDTH_PX * scale) / 2
    top = box["y"] + (box["height"] - HEIGHT_PX * scale) / 2
    return left + point[0] * scale, top + point[1] * scale


def grave_faults(page: Page) -> list[str]:
    """What axe finds serious or critical on a page as it stands."""
    found = Axe().run(page).response["violations"]
    grave = [v for v in found if v["impact"] in ("serious", "critical")]
    return [f"{v['id']}: {node['html'][:90]}" for v in grave for node in v["nodes"]]


def area(points: Sequence[Spot]) -> float:
    following = [*points[1:], points[0]]
    pairs = zip(points, following, strict=True)
    return abs(sum(x * v - u * y for (x, y), (u, v) in pairs)) / 2


def near(spot: Spot, other: Spot, within: float) -> bool:
    return math.dist(spot, other) <= within
