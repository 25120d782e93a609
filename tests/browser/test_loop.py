"""Once round the whole loop as a maker goes it: by finger on a phone, by mouse at a desk.

What the person did is then looked up in the records, not on the screen.
"""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from flask import Flask

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, Page, expect

from defectlog.records import Build, Finding, Lesson, Measurement, Outcome, Part
from tests.browser.fingers import Fingers, Watch
from tests.browser.lid import Lid, photograph
from tests.browser.room import DESK, PHONE, grave_faults, place_of

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def lid() -> Lid:
    return photograph()


@dataclass(frozen=True)
class Device:
    """What the maker holds: a phone touched with a finger, or a desk with a mouse."""

    name: str
    context: dict

    @property
    def is_phone(self) -> bool:
        return self.name == "phone"


DEVICES = [
    Device("phone", PHONE),
    Device("desk", DESK),
]


class Maker:
    """One person and one page."""

    def __init__(self, page: Page, address: str, device: Device) -> None:
        self.page, self.address, self.device = page, address, device
        self.watch = Watch(page)
        self.watch.begin()
        page.set_default_timeout(15_000)

    def press(self, name: str, role: str = "button", **more) -> None:
        target = self.page.get_by_role(role, name=name, **more).first
        target.tap() if self.device.is_phone else target.click()

    def save(self, name: str) -> None:
        """Press a button that sends a form, and wait for the page that follows."""
        with self.page.expect_navigation():
            self.press(name)

    def tap(self, place: str) -> None:
        target = self.page.locator(place).first
        target.tap() if self.device.is_phone else target.click()

    def go(self, path: str) -> None:
        self.page.goto(self.address + path)

    def fill(self, label: str, text: str) -> None:
        self.page.get_by_label(label, exact=True).fill(text)

    def add_photo(self, file: Path, stage: str) -> str:
        """Send a photo from the build page and go to it; gives its address."""
        self.page.get_by_label(stage).check()
        with self.page.expect_file_chooser() as chooser:
            self.press("Choose photos")
        chooser.value.set_files(str(file))
        self.page.get_by_text("1 of 1 photo saved").wait_for()
        link = self.page.get_by_role("link", name=file.name)
        path = link.get_attribute("href")
        self.go(path)
        self.page.wait_for_selector("#room.is-ready")
        return path

    def outline(self, corners: list[tuple[float, float]], tool: str = "outline") -> None:
        """Draw round a place of the photo, which is shown whole."""
        path = [place_of(self.page, corner) for corner in [*corners, corners[0]]]
        self.tap(f".strip [data-tool={tool}]")
        if self.device.is_phone:
            Fingers(self.page).stroke(path)
            return
        self.page.mouse.move(*path[0])
        self.page.mouse.down()
        for spot in path[1:]:
            self.page.mouse.move(*spot)
        self.page.mouse.up()

    def choose_kind(self, title: str) -> None:
        with self.page.expect_response("**/marks") as answer:
            self.press(title)
        assert answer.value.status == 201


@pytest.mark.parametrize("device", DEVICES, ids=lambda device: device.name)
def test_once_round_the_loop(
    device: Device, chromium: Browser, workshop: Flask, address: str, lid: Lid, tmp_path: Path
) -> None:
    part_name = f"Bow bulkhead, {device.name}"
    demould, repaired = tmp_path / "tool-side.jpg", tmp_path / "tool-side-after.jpg"
    demould.write_bytes(lid.jpeg)
    repaired.write_bytes(lid.jpeg + device.name.encode())  # other bytes, so another photo
    maker = Maker(chromium.new_context(**device.context).new_page(), address, device)
    page = maker.page

    # A part with a limit.
    maker.go("/workshop/parts/new")
    maker.fill("Name", part_name)
    maker.fill("Target mass", "308,5")
    maker.save("Save part")
    page.locator("#f-kind").select_option("dry-spot")
    maker.fill("Largest size", "9,5")
    maker.save("Save limit")

    # A build, its facts half filled in.
    maker.press("Start a build", role="link")
    maker.save("Start the build")
    page.wait_for_url(re.compile(r"/builds/\d+$"))
    build_path = page.url.removeprefix(address).partition("#")[0]
    maker.go(f"{build_path}/facts/resin")
    maker.fill("Resin temperature", "16,5")
    maker.save("Save")
    maker.go(f"{build_path}/facts/layup")
    page.get_by_label("vacuum infusion").check()
    maker.save("Save")

    # The photo: scaled by its card, marked, measured.
    maker.add_photo(demould, "At demould")
    expect(page.locator("#scale-words")).to_contain_text("from the card")
    maker.outline(lid.dry_spot)
    maker.choose_kind("Dry spot")
    maker.outline([(60, 70), (1140, 70), (1140, 830), (60, 830)], tool="region")
    page.get_by_text("Region set").wait_for()
    maker.tap("#go-measure" if device.is_phone else "#measure")
    expect(page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    # The finding: why, what was done, outcome, lesson.
    maker.go(build_path)
    maker.tap(".findings .finding")
    page.wait_for_url("**/findings/*")
    finding_path = page.url.removeprefix(address).partition("#")[0]
    expect(page.locator(".page")).to_contain_text("limit 9.5")
    page.get_by_label("What you saw").first.fill("Two fronts met there on the film")
    page.get_by_role("button", name="Confirm:").first.click()
    page.get_by_text("Two fronts met there on the film").wait_for()
    maker.fill("What was done", "Sanded back, wetted out, cured under peel ply")
    page.get_by_label("Working time").fill("35")
    maker.save("Put the fix on record")

    maker.go(build_path)
    maker.add_photo(repaired, "After repair")
    maker.outline(lid.dry_spot)
    with page.expect_response("**/marks"):
        page.locator("#kind-sheet").get_by_role("button", name="finding").first.click()

    maker.go(finding_path)
    expect(page.locator(".photos--large li")).to_have_count(2)
    page.get_by_label("Repair").check()
    maker.save("Decide and close")
    maker.fill("The one thing to change on the next builds", "Vent at the low corner")
    maker.save("Write the lesson")
    maker.go(build_path)
    maker.save("Release build")

    # The next build carries the lesson, and the trend links back.
    maker.press(part_name, role="link")
    maker.press("Start a build", role="link")
    maker.save("Start the build")
    page.wait_for_url(re.compile(r"/builds/\d+$"))
    maker.save("Applied: Vent at the low corner")
    page.get_by_text("Applied on this build").wait_for()
    with workshop.extensions["defectlog"][0].read() as session:
        part = session.query(Part).filter_by(name=part_name).one()
        maker.go(f"/trends/{part.id}")
        expect(page.locator("main")).to_contain_text("Dry spot")
        page.locator(f"a[href^='{build_path}']").first.wait_for(state="attached")

        first, second = part.builds
        assert part.target_mass_g == 308.5
        assert [(limit.kind, limit.largest_mm) for limit in part.limits] == [("dry-spot", 9.5)]
        assert first.known["resin_temp_c"] == 16.5 and first.known["process"] == "infusion"
        assert first.is_released and isinstance(second, Build)
        finding = session.query(Finding).filter_by(build_id=first.id).one()
        assert finding.outcome is Outcome.REPAIR
        assert [mark.photo.stage.value for mark in finding.marks] == ["at demould", "after repair"]
        assert finding.confirmed_cause
        assert finding.fixes[0].minutes == 35
        measured = session.query(Measurement).filter_by(photo_id=first.photos[0].id).one()
        assert measured.void_fraction_high > 0 and measured.inspected_mm2
        lesson = session.query(Lesson).filter_by(finding_id=finding.id).one()
        assert [(use.build_id, use.is_applied) for use in lesson.uses] == [(second.id, True)]

    assert maker.watch.seen() == []
    page.context.close()


@pytest.mark.parametrize("device", DEVICES, ids=lambda device: device.name)
def test_no_screen_has_a_serious_fault_for_a_screen_reader(
    device: Device, chromium: Browser, workshop: Flask, address: str
) -> None:
    with workshop.extensions["defectlog"][0].read() as session:
        part, build = session.query(Part).first(), session.query(Build).first()
        finding, lesson = session.query(Finding).first(), session.query(Lesson).first()
        assert part and build and finding and lesson, "the loop comes first"
        paths = [
            "/",
            "/builds/",
            "/builds/new",
            f"/builds/{build.id}",
            f"/builds/{build.id}/facts/layup",
            f"/builds/{build.id}/sheet",
            f"/photos/{build.photos[0].id}",
            "/findings/",
            f"/findings/{finding.id}",
            "/guide/",
            "/guide/peel-tear",
            "/trends/",
            "/trends/goes-with/",
            "/trends/compare/",
            f"/trends/{part.id}",
            "/lessons/",
            f"/lessons/{lesson.id}",
            "/workshop/",
            "/workshop/how",
            f"/workshop/parts/{part.id}",
            "/workshop/parts/new",
            "/nowhere",
        ]
    page = chromium.new_context(**device.context).new_page()
    faults = []
    for path in paths:
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        faults += [f"{path} {fault}" for fault in grave_faults(page)]
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if wide > 0:
            faults.append(f"{path} is {wide} px wider than the screen")
    page.context.close()

    assert faults == []
