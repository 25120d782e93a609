"""A real Chromium, and a real server on a workshop of its own."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from flask import Flask

from defectlog.bench.parts import PartPlan, save_part
from defectlog.web import create_app
from defectlog.web.records import transaction
from tests.browser.lid import Lid, photograph
from tests.serving import serving
from tests.taken_in import photo_taken_in

if TYPE_CHECKING:
    from tests.browser.room import Room

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def system_chromium() -> str | None:
    """The system's Chromium; without one playwright looks for its own."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """The system's Chromium, or the one that came with playwright."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as driver:
        try:
            browser = driver.chromium.launch(executable_path=system_chromium(), args=list(FLAGS))
        except playwright.Error as error:
            pytest.skip(f"no Chromium to drive: {error.message.splitlines()[0]}")
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The app as a maker runs it, CSRF protection and all; empty at first."""
    made = create_app(Path(tmp_path_factory.mktemp("workshop")))
    yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture(scope="module")
def address(workshop: Flask) -> Iterator[str]:
    """Where the workshop is served."""
    with serving(workshop) as served:
        yield served


@pytest.fixture(scope="session")
def photographed() -> Lid:
    """A rendered photo of a lid; drawn once, for it takes its second."""
    return photograph()


@pytest.fixture(scope="module")
def part_id(workshop: Flask) -> int:
    with workshop.app_context(), transaction() as session:
        return save_part(session, PartPlan("Day-hatch lid")).id


@pytest.fixture
def number(workshop: Flask, part_id: int, photographed: Lid) -> int:
    """The number of a photo of a lid, on a build of its own."""
    return photo_taken_in(workshop, photographed.jpeg, part_id=part_id, name="lid.jpg")


@pytest.fixture
def enter(chromium: Any, address: str, number: int) -> Iterator[Callable[..., "Room"]]:
    """Open the room on a phone or at a desk; at the end nothing may have been blocked or broken."""
    from tests.browser.room import Room  # needs playwright, which may not be there

    rooms = []

    def go(device: dict[str, Any], **more: Any) -> Room:
        context = chromium.new_context(**device, **more)
        rooms.append(Room(context.new_page(), address, number))
        return rooms[-1]

    yield go
    for room in rooms:
        seen = room.watch.seen()
        room.page.context.close()
        assert seen == []
