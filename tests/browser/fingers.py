"""Fingers, and a watch for what a browser would only tell its developer tools."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field

from playwright.sync_api import Page

Spot = tuple[float, float]

_WATCH = """
  window.__blocked = [];
  document.addEventListener("securitypolicyviolation", (event) =>
    window.__blocked.push(`${event.violatedDirective} ${event.blockedURI}`));
"""


@dataclass
class Watch:
    """Script faults and refused requests of a page; blocked styles and scripts are asked for."""

    page: Page
    faults: list[str] = field(default_factory=list)

    def begin(self) -> None:
        self.page.add_init_script(_WATCH)
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on(
            "response",
            lambda answer: (
                answer.status >= 400 and self.faults.append(f"{answer.status} {answer.url}")
            ),
        )

    def seen(self) -> list[str]:
        return self.faults + self.page.evaluate("window.__blocked")


class Fingers:
    """Touches as a screen reports them. Places are (x, y) in CSS pixels of the page."""

    def __init__(self, page: Page) -> None:
        self._cdp = page.context.new_cdp_session(page)

    def put(self, kind: str, *spots: Spot) -> None:
        """One report of the screen: all fingers that are on it (none at ``touchEnd``)."""
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(spots)]
        self._cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def tap(self, spot: Spot) -> None:
        self.put("touchStart", spot)
        self.put("touchEnd")

    def stroke(self, path: Sequence[Spot]) -> None:
        self.put("touchStart", path[0])
        for spot in path[1:]:
            self.put("touchMove", spot)
        # A finger comes to rest before it lifts; else the browser takes it for a flick, and spends
        # the next touch on stopping that.
        for _ in range(4):
            time.sleep(0.03)
            self.put("touchMove", path[-1])
        self.put("touchEnd")

    def pinch(self, middle: Spot, *, start: float, end: float, drawn: float = 0.0) -> None:
        """Two fingers apart; the first has moved by ``drawn`` before the second lands.

        They lift one after the other, as fingers do.
        """
        x, y = middle
        first = (x - start - drawn, y)
        self.put("touchStart", first)
        for step in range(1, 6):
            self.put("touchMove", (first[0] + drawn * step / 5, y))
        self.put("touchStart", (x - start, y), (x + start, y))
        for step in range(1, 11):
            reach = start + (end - start) * step / 10
            self.put("touchMove", (x - reach, y), (x + reach, y))
        self.put("touchEnd", (x - end, y))
        self.put("touchMove", (x - end - 40, y + 40))
        self.put("touchEnd")
