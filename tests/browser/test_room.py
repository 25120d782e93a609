"""The photo room in a real browser: fingers on a phone, a mouse and keys at a desk."""

import io
import json
import math
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from PIL import Image

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from defectlog.bench.builds import start_build
from defectlog.bench.intake import take_in
from defectlog.bench.parts import PartPlan, save_part
from defectlog.demo.camera import as_jpeg
from defectlog.demo.spec import (
    Camera,
    DrySpot,
    LaidCard,
    PhotoSpec,
    Pinholes,
    Side,
    Surface,
    Truth,
)
from defectlog.demo.surfaces import render
from defectlog.demo.weave import Cloth
from defectlog.records import Face, PhotoStage
from defectlog.web.records import store, transaction
from tests.browser.fingers import Fingers, Spot, Watch

pytestmark = pytest.mark.browser

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
PX_PER_MM = 8.0
PHONE = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1440, "height": 900}}
SPEC = PhotoSpec(
    outline_mm=((-70, -50), (70, -50), (70, 50), (-70, 50)),
    surface=Surface(Cloth.GLASS_PLAIN, Side.TOOL, 1.6),
    camera=Camera(PX_PER_MM, width_px=1200, height_px=900),
    defects=(Pinholes(40, 0.9), DrySpot((40, -20), (34, 24))),
    card=LaidCard("id1", (-30, 28)),
    seed=4,
)


@dataclass
class Lid:
    """A rendered photo and what is known of it."""

    jpeg: bytes
    truth: Truth

    @property
    def dry_spot(self) -> list[Spot]:
        return next(d.outline_px for d in self.truth.defects if d.kind == "dry-spot")


@pytest.fixture(scope="module")
def lid() -> Lid:
    picture, truth = render(SPEC)
    return Lid(as_jpeg(picture, NOON), truth)


@pytest.fixture(scope="module")
def part_id(workshop: Flask) -> int:
    with workshop.app_context(), transaction() as session:
        return save_part(session, PartPlan("Day-hatch lid")).id


@pytest.fixture
def number(workshop: Flask, part_id: int, lid: Lid) -> int:
    """A photo of a build of its own."""
    with workshop.app_context(), transaction() as session:
        build = start_build(session, part_id, NOON)
        photo = take_in(
            session,
            store(),
            build.id,
            lid.jpeg,
            name="lid.jpg",
            face=Face.TOOL,
            stage=PhotoStage.DEMOULD,
            at=NOON,
        ).photo
        return photo.id


class Room:
    """The room as a person has it: the page, and the records behind it."""

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
        """Where a point of the photo lies on the page while the whole photo is shown."""
        box = self.page.locator("#picture").bounding_box()
        scale = min(box["width"] / 1200, box["height"] / 900)
        left = box["x"] + (box["width"] - 1200 * scale) / 2
        top = box["y"] + (box["height"] - 900 * scale) / 2
        return left + point[0] * scale, top + point[1] * scale

    def tool(self, name: str) -> None:
        self.page.locator(f".strip [data-tool={name}]").click()

    def choose(self, kind: str) -> None:
        with self.page.expect_response("**/marks") as answer:
            self.page.get_by_role("button", name=kind).click()
        assert answer.value.status == 201
        expect(self.page.locator("#hint")).to_contain_text("saved")

    def accessibility_faults(self) -> list[str]:
        found = Axe().run(self.page).response["violations"]
        grave = [v for v in found if v["impact"] in ("serious", "critical")]
        return [f"{v['id']}: {node['html'][:90]}" for v in grave for node in v["nodes"]]


@pytest.fixture
def enter(chromium: Browser, address: str, number: int) -> Iterator[Callable[[dict], Room]]:
    """Open the room on a phone or at a desk; at the end nothing may have been blocked or broken."""
    rooms = []

    def go(device: dict, **more: Any) -> Room:
        context = chromium.new_context(**device, **more)
        rooms.append(Room(context.new_page(), address, number))
        return rooms[-1]

    yield go
    for room in rooms:
        seen = room.watch.seen()
        room.page.context.close()
        assert seen == []


def area(points: list[Spot]) -> float:
    following = [*points[1:], points[0]]
    pairs = zip(points, following, strict=True)
    return abs(sum(x * v - u * y for (x, y), (u, v) in pairs)) / 2


def near(spot: Spot, other: Spot, within: float) -> bool:
    return math.dist(spot, other) <= within


def test_a_finger_drawn_round_a_dry_spot_outlines_it(enter, lid):
    room = enter(PHONE)
    room.tool("outline")

    Fingers(room.page).stroke([room.at(point) for point in [*lid.dry_spot, lid.dry_spot[0]]])
    expect(room.page.locator("#kind-sheet")).to_contain_text("mm across")
    room.choose("Dry spot")

    mark = room.mark()
    assert (mark["shape"], mark["kind"]) == ("outline", "dry-spot")
    # The finger's path is simplified to 2.5 px of the screen; 3 px of it are one pixel here.
    assert area(mark["points"]) == pytest.approx(area(lid.dry_spot), rel=0.1)
    assert len(mark["points"]) < 40


def test_a_pinch_while_drawing_zooms_and_leaves_no_stray_mark(enter):
    room = enter(PHONE)
    transform = "document.querySelector('.overlay > g').getAttribute('transform')"
    for tool in ("outline", "line", "box", "spot"):
        room.page.locator("#zoom-fit").click()
        room.page.wait_for_timeout(500)
        before = room.page.evaluate(transform)
        room.tool(tool)
        Fingers(room.page).pinch((190, 380), start=40, end=120, drawn=30)
        room.page.wait_for_timeout(500)

        assert room.page.evaluate(transform) != before
        expect(room.page.locator("dialog[open]")).to_have_count(0)
        expect(room.page.locator(".overlay .is-drawing")).to_have_count(0)
    assert room.kept["marks"] == []


def test_a_slow_tap_of_a_glove_sets_a_spot_where_it_touched(enter):
    room = enter(PHONE)
    room.tool("spot")
    x, y = room.at((900, 300))
    fingers = Fingers(room.page)

    fingers.put("touchStart", (x, y))
    fingers.put("touchMove", (x + 6, y + 5))
    room.page.wait_for_timeout(900)
    fingers.put("touchEnd")
    room.choose("Pinholes on the tool side")

    assert near(room.mark()["points"][0], (900, 300), 2)


def test_a_second_mark_joins_an_open_finding_with_one_tap(enter):
    room = enter(PHONE)
    room.tool("spot")
    fingers = Fingers(room.page)
    fingers.tap(room.at((300, 200)))
    room.choose("Torn by the peel ply")

    fingers.tap(room.at((500, 260)))
    room.choose("finding")

    first, second = room.kept["marks"]
    assert first["finding_id"] == second["finding_id"]


def test_everything_a_thumb_must_hit_is_48_px_high_and_wide(enter):
    room = enter(PHONE)
    room.page.locator("#open-marks").click()
    room.page.locator("#measure-settings summary").click()
    small = room.page.evaluate(
        """() => [...document.querySelectorAll("button, a[href], summary, label:has(input)")]
          .filter((element) => element.checkVisibility() && !element.matches(".skip"))
          .map((element) => [element.textContent.trim() || element.ariaLabel,
            Math.round(element.getBoundingClientRect().width),
            Math.round(element.getBoundingClientRect().height)])
          .filter(([, width, height]) => width < 48 || height < 48)"""
    )

    assert small == []


def test_what_is_drawn_while_the_network_is_away_waits_on_the_device(enter):
    room = enter(PHONE)
    room.page.route("**/marks", lambda route: route.abort())
    room.tool("spot")
    Fingers(room.page).tap(room.at((600, 200)))
    room.page.get_by_role("button", name="Dry spot").click()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")

    room.open()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")
    expect(room.page.locator(".overlay .is-unsent")).not_to_have_count(0)
    assert room.kept["marks"] == []

    room.page.unroute("**/marks")
    room.page.locator("#fault-again").click()
    expect(room.page.locator("#hint")).to_contain_text("saved")
    assert room.mark()["kind"] == "dry-spot"
    assert room.page.evaluate("localStorage.length") == 0


def test_an_answer_lost_on_its_way_does_not_make_two_marks(enter):
    room = enter(PHONE)

    def lose(route):
        route.fetch()
        route.abort()

    room.page.route("**/marks", lose)
    room.tool("spot")
    Fingers(room.page).tap(room.at((600, 200)))
    room.page.get_by_role("button", name="Dry spot").click()
    expect(room.page.locator("#fault")).to_contain_text("was not reached")
    room.page.unroute("**/marks")
    room.page.locator("#fault-again").click()
    expect(room.page.locator("#hint")).to_contain_text("saved")

    assert len(room.kept["marks"]) == 1


def test_two_taps_and_a_length_with_a_comma_scale_the_photo(enter):
    room = enter(PHONE)
    room.page.locator("#scale-chip").click()
    room.page.get_by_role("button", name="No scale").click()
    expect(room.page.locator("#scale-chip")).to_contain_text("No scale")
    room.page.locator("#scale-chip").click()
    room.page.get_by_role("button", name="Point out a known length").click()
    fingers = Fingers(room.page)
    fingers.tap(room.at((200, 120)))
    fingers.tap(room.at((1000, 120)))
    room.page.locator("#length").fill("abc")
    room.page.get_by_role("button", name="Save the scale").click()
    expect(room.page.locator("#length-fault")).to_contain_text("not a length")
    room.page.locator("#length").fill("101,5")
    room.page.get_by_role("button", name="Save the scale").click()
    expect(room.page.locator("#scale-chip")).to_contain_text("from two points")

    scale = room.kept["scale"]
    assert scale["length_mm"] == 101.5
    # 800 px over 101.5 mm; a tap is good to about two pixels of the photo here.
    assert scale["px_per_mm"] == pytest.approx(800 / 101.5, rel=0.01)


def test_measuring_shows_figures_and_lays_what_was_counted_over_the_photo(enter, lid):
    room = enter(PHONE)
    assert room.kept["scale"]["px_per_mm"] == pytest.approx(PX_PER_MM, rel=0.03)
    room.page.locator("#go-measure").click()
    expect(room.page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    (measured,) = room.kept["measurements"]
    expect(room.page.locator(".result__figure")).to_have_text(measured["void_pct_words"])
    for words in ("interval_words", "count_words", "inspected_words"):
        expect(room.page.locator("#result")).to_contain_text(measured[words])
    picture = room.page.locator(".overlay image").bounding_box()
    left, top = room.at((0, 0))
    assert (picture["x"], picture["y"]) == pytest.approx((left, top), abs=1)
    assert picture["width"] / picture["height"] == pytest.approx(1200 / 900, rel=0.01)

    room.page.locator("#counted").click()
    expect(room.page.locator(".overlay image")).to_have_count(0)


def test_only_the_drawn_region_is_measured_and_it_can_be_logged(enter):
    room = enter(DESK)
    room.tool("region")
    for corner in ((620, 120), (1100, 120), (1100, 420), (620, 420), (620, 120)):
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#region-words")).to_contain_text("cm²")
    room.page.locator("#measure").click()
    expect(room.page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    (measured,) = room.kept["measurements"]
    assert area(measured["region"]) == pytest.approx(480 * 300, rel=0.02)
    room.page.get_by_role("button", name="Log it as a finding").click()
    room.choose("Pinholes on the tool side")
    assert room.mark()["points"] == measured["region"]


def test_a_box_drawn_by_mouse_is_moved_undone_and_done_again(enter):
    room = enter(DESK)
    room.tool("box")
    mouse = room.page.mouse
    mouse.move(*room.at((200, 200)))
    mouse.down()
    mouse.move(*room.at((300, 300)))
    mouse.move(*room.at((500, 400)))
    expect(room.page.locator("#readout")).to_contain_text("mm")
    mouse.up()
    room.choose("Starved bag side")
    drawn = room.mark()["points"]
    assert near(drawn[0], (200, 200), 2) and near(drawn[1], (500, 400), 2)

    room.tool("look")
    mouse.click(*room.at((200, 300)))
    handle = room.page.get_by_role("button", name="Corner 3 of 4")
    box = handle.bounding_box()
    assert min(box["width"], box["height"]) >= 44
    mouse.move(*room.at((500, 400)))
    mouse.down()
    mouse.move(*room.at((560, 420)))
    mouse.move(*room.at((700, 500)))
    mouse.up()
    expect(room.page.locator("#hint")).to_contain_text("moved")
    changed = room.mark()["points"]
    assert near(changed[0], (200, 200), 2) and near(changed[1], (700, 500), 4)

    room.page.locator("#undo").click()
    expect(room.page.locator("#hint")).to_contain_text("Undone")
    assert room.mark()["points"] == drawn
    room.page.keyboard.press("Control+Shift+z")
    expect(room.page.locator("#hint")).to_contain_text("Done again")
    assert room.mark()["points"] == changed


def test_corners_of_an_outline_are_added_and_removed(enter):
    room = enter(DESK)
    room.tool("outline")
    for corner in ((700, 100), (1100, 100), (1100, 400), (700, 400), (700, 100)):
        room.page.mouse.click(*room.at(corner))
    room.choose("Dry spot")
    room.tool("look")

    room.page.get_by_role("button", name="Add a corner after corner 1").click()
    expect(room.page.get_by_role("button", name="Corner 5 of 5")).to_be_visible()
    room.page.get_by_role("button", name="Corner 3 of 5").press("Delete")
    expect(room.page.get_by_role("button", name="Corner 4 of 4")).to_be_visible()
    expect(room.page.locator(".mark-row")).to_contain_text("across")  # saved, and sized anew

    points = room.mark()["points"]
    assert len(points) == 4
    assert near(points[1], (900, 100), 3)  # half way between the first two


def test_closing_the_sheet_keeps_the_drawing_until_it_is_dropped(enter):
    room = enter(PHONE)
    room.tool("outline")
    Fingers(room.page).stroke([room.at(p) for p in ((300, 200), (600, 200), (450, 400))])
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.get_by_role("button", name="Back", exact=True).click()

    room.page.locator("#draw-done").click()
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.get_by_role("button", name="Throw it away").click()

    expect(room.page.locator(".overlay .is-drawing")).to_have_count(0)
    assert room.kept["marks"] == []


def test_marks_are_in_pixels_of_the_original_though_a_smaller_copy_is_shown(
    enter, workshop, part_id, number
):
    picture = io.BytesIO()
    Image.new("RGB", (6000, 4000), (120, 110, 90)).save(picture, "JPEG")
    with workshop.app_context(), transaction() as session:
        build = start_build(session, part_id, NOON)
        large = take_in(
            session,
            store(),
            build.id,
            picture.getvalue(),
            name="large.jpg",
            face=Face.BAG,
            stage=PhotoStage.DEMOULD,
            at=NOON,
        ).photo.id
    room = enter(DESK)
    fetched = []
    room.page.on("request", lambda asked: fetched.append(asked.url))
    room.go_to(large)
    room.page.wait_for_timeout(500)
    assert room.kept["photo"]["renditions"][-1]["width_px"] < 6000
    assert not any("/large.jpg" in url for url in fetched)  # not before somebody looks closer
    box = room.page.locator("#picture").bounding_box()
    room.tool("spot")
    # The middle of the view is the middle of the photo; 100 px of the screen to the left of it
    # are 100 over so many pixels of the screen as the whole width has, of 6000.
    room.page.mouse.click(box["x"] + box["width"] / 2 - 100, box["y"] + box["height"] / 2)
    room.choose("Dry spot")

    shown_px = min(box["width"], box["height"] * 1.5)
    assert near(room.mark()["points"][0], (3000 - 100 * 6000 / shown_px, 2000), 5)
    with room.page.expect_request("**/large.jpg*"):
        for _ in range(5):
            room.page.locator("#zoom-in").click()


def test_keys_alone_draw_name_move_delete_and_bring_back(enter):
    room = enter(DESK)
    keys = room.page.keyboard
    keys.press("o")
    expect(room.page.locator("#hint")).to_contain_text("cross-hair")
    expect(room.page.locator("#aim:not([hidden])")).to_have_count(1)
    for arrow in (None, "ArrowRight", "ArrowDown"):
        for _ in range(8 if arrow else 0):
            keys.press(arrow)
        keys.press("Enter")
    keys.press("Enter")  # on the same spot: done
    expect(room.page.locator("#kind-sheet")).to_be_visible()
    room.page.get_by_role("button", name="Dry spot").focus()
    keys.press("Enter")
    expect(room.page.locator("#hint")).to_contain_text("saved")
    (x0, y0), (x1, y1), (x2, y2) = room.mark()["points"]
    assert near((x0, y0), (600, 450), 2)  # the middle of the view
    assert x1 - x0 == pytest.approx(y2 - y1, abs=0.5) and y1 == y0 and x2 == x1

    keys.press("v")
    keys.press("]")
    room.page.get_by_role("button", name="Corner 1 of 3").focus()
    keys.press("Shift+ArrowLeft")
    expect(room.page.locator("#hint")).to_contain_text("moved")
    assert room.mark()["points"][0][0] < x0

    keys.press("Escape")
    keys.press("]")
    room.page.locator("[data-mark]").focus()
    keys.press("Delete")
    expect(room.page.locator("#hint")).to_contain_text("deleted")
    assert room.kept["marks"] == []
    keys.press("Control+z")
    expect(room.page.locator("#hint")).to_contain_text("Undone")
    assert room.mark()["kind"] == "dry-spot"


def test_the_tab_key_goes_round_the_room_and_is_trapped_nowhere(enter):
    room = enter(DESK)
    reached = []
    for _ in range(60):
        room.page.keyboard.press("Tab")
        where = room.page.evaluate(
            "document.activeElement.id || document.activeElement.dataset.tool "
            "|| document.activeElement.className"
        )
        if where and where in reached and where == reached[0]:
            break
        reached.append(where)
    wanted = {"scale-chip", "zoom-in", "spot", "outline", "measure", "openseadragon-canvas"}

    assert wanted <= set(reached)
    assert reached.count("openseadragon-canvas") == 1


def test_letters_typed_into_a_field_are_letters(enter):
    room = enter(DESK)
    room.page.locator("#measure-settings summary").click()
    room.page.locator("#smallest").press_sequentially("0,3 o")

    expect(room.page.locator("#smallest")).to_have_value("0,3 o")
    expect(room.page.locator(".strip [data-tool=look]")).to_have_attribute("aria-pressed", "true")

    room.page.get_by_role("button", name="Details").click()
    room.page.locator("#note").press_sequentially("dry at the core -s+0")
    expect(room.page.locator("#note")).to_have_value("dry at the core -s+0")
    room.page.get_by_role("button", name="Save details").click()
    expect(room.page.locator("#hint")).to_contain_text("details saved")
    assert room.kept["photo"]["note"] == "dry at the core -s+0"


def test_letters_can_be_switched_off(enter):
    room = enter(DESK)
    room.page.keyboard.press("?")
    room.page.get_by_label("Single letters act as keys").uncheck()
    room.page.keyboard.press("Escape")

    room.page.keyboard.press("o")

    expect(room.page.locator(".strip [data-tool=look]")).to_have_attribute("aria-pressed", "true")


def test_another_kind_is_given_and_taken_back(enter):
    room = enter(DESK)
    room.tool("spot")
    room.page.mouse.click(*room.at((300, 300)))
    room.choose("Dry spot")
    room.tool("look")
    room.page.locator("#mark-kind").click()
    room.page.get_by_role("button", name="Starved bag side").click()
    expect(room.page.locator("#hint")).to_contain_text("Kind changed")
    assert room.mark()["kind"] == "starved-bag"

    room.page.locator("#undo").click()
    expect(room.page.locator("#hint")).to_contain_text("Undone")
    assert room.mark()["kind"] == "dry-spot"


def test_what_the_records_refuse_is_told_and_the_drawing_stays(enter):
    room = enter(DESK)
    refusal = {"what": "Part of the mark lies outside the picture", "do": "draw it on the photo"}
    room.page.route("**/marks", lambda r: r.fulfill(status=400, json=refusal))
    room.tool("spot")
    room.page.mouse.click(*room.at((300, 300)))
    room.page.get_by_role("button", name="Dry spot").click()

    alert = room.page.get_by_role("alert").filter(has_text="lies outside the picture")
    expect(alert).to_contain_text("draw it on the photo")
    expect(room.page.locator(".overlay .is-unsent")).not_to_have_count(0)
    room.page.get_by_role("button", name="Throw away").click()
    expect(room.page.locator(".overlay .is-unsent")).to_have_count(0)
    room.watch.faults.clear()  # the refusal itself


def test_a_photo_is_deleted_only_after_a_second_question(enter):
    room = enter(PHONE)
    build = room.kept["photo"]["build_url"]
    room.page.get_by_role("button", name="Details").click()
    room.page.get_by_role("button", name="Delete this photo").click()
    room.page.get_by_role("button", name="Delete the photo").click()

    room.page.wait_for_url(f"**{build}")


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_no_serious_barrier_is_found_in_the_room_or_its_sheets(enter, device):
    room = enter(device)
    found = room.accessibility_faults()
    room.tool("spot")
    room.page.locator("#picture").click(position={"x": 150, "y": 300})
    found += room.accessibility_faults()
    room.choose("Dry spot")
    room.tool("look")
    room.page.locator("#scale-chip").click()
    found += room.accessibility_faults()
    room.page.keyboard.press("Escape")
    if device is PHONE:
        room.page.locator("#open-marks").click()
    found += room.accessibility_faults()

    assert found == []


def test_nothing_moves_by_itself_for_those_who_asked_for_calm(enter):
    room = enter(DESK, reduced_motion="reduce")
    transform = "document.querySelector('.overlay > g').getAttribute('transform')"

    room.page.locator("#zoom-in").click()
    room.page.evaluate(
        "new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)))"
    )
    at_once = room.page.evaluate(transform)
    room.page.wait_for_timeout(400)

    assert room.page.evaluate(transform) == at_once
