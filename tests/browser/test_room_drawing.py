"""What is drawn is what is kept: to a pixel of the photo, in millimetres, and through mishaps."""

import math

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.bench.decisions import decide
from defectlog.demo.camera import as_jpeg
from defectlog.demo.spec import Camera, LaidCard, PhotoSpec, Side, Surface
from defectlog.demo.surfaces import render
from defectlog.demo.weave import Cloth
from defectlog.records import Outcome
from defectlog.web.records import transaction
from tests.browser.fingers import Fingers
from tests.browser.lid import HEIGHT_PX, NOON, WIDTH_PX
from tests.browser.room import DESK, PHONE
from tests.taken_in import photo_taken_in

pytestmark = pytest.mark.browser

STEP = 1.4  # one press of "Closer"
CALM = {"reduced_motion": "reduce"}
# Corners round the middle of the photo, (600, 450), which stays in the middle of the view.
SHAPES = {
    "spot": [(594, 441)],
    "line": [(585, 445), (612, 462)],
    "box": [(584, 438), (611, 466)],
    "outline": [(586, 436), (614, 440), (609, 467), (588, 460)],
}


class Closer:
    """The middle of the photo, many times as large as the whole photo is shown."""

    def __init__(self, room, presses: int) -> None:
        self.room = room
        box = room.page.locator("#picture").bounding_box()
        fit = min(box["width"] / WIDTH_PX, box["height"] / HEIGHT_PX)
        self.middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self.scale = fit * STEP**presses
        for _ in range(presses):
            room.page.locator("#zoom-in").click()

    def at(self, point):
        x, y = self.middle
        return (
            x + (point[0] - WIDTH_PX / 2) * self.scale,
            y + (point[1] - HEIGHT_PX / 2) * self.scale,
        )


def between(corners, steps=12):
    """A path from corner to corner, as a hand goes it."""
    path = [corners[0]]
    for (ax, ay), (bx, by) in zip(corners, corners[1:], strict=False):
        path += [
            (ax + (bx - ax) * i / steps, ay + (by - ay) * i / steps) for i in range(1, steps + 1)
        ]
    return path


def drag_mouse(page, path):
    page.mouse.move(*path[0])
    page.mouse.down()
    for spot in path[1:]:
        page.mouse.move(*spot)
    page.mouse.up()


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["finger", "mouse"])
def test_what_is_kept_is_what_was_drawn_to_a_pixel_of_the_photo(enter, device):
    room = enter(device, **CALM)
    by_finger = device is PHONE
    fingers = Fingers(room.page) if by_finger else None
    tap = fingers.tap if by_finger else lambda spot: room.page.mouse.click(*spot)
    drag = fingers.stroke if by_finger else lambda path: drag_mouse(room.page, path)
    closer = Closer(room, 8 if by_finger else 5)
    assert closer.scale > 4

    drawn = []
    for name, corners in SHAPES.items():
        room.tool(name)
        if name == "spot":
            tap(closer.at(corners[0]))
        else:
            there = [*corners, corners[0]] if name == "outline" else corners
            drag([closer.at(point) for point in between(there)])
        room.choose("finding" if drawn else "Dry spot")
        drawn.append(corners)
    for corner in [*SHAPES["outline"], SHAPES["outline"][0]]:  # the same corner by corner
        tap(closer.at(corner))
    room.choose("finding")
    drawn.append(SHAPES["outline"])

    kept = room.kept["marks"]
    assert [mark["shape"] for mark in kept] == ["point", "line", "box", "outline", "outline"]
    for mark, corners in zip(kept, drawn, strict=True):
        assert len(mark["points"]) <= len(corners) + 1  # simplified to its few corners
        for corner in corners:
            assert min(math.dist(corner, point) for point in mark["points"]) <= 1


def test_sizes_are_right_on_a_photo_taken_at_a_slant(enter, workshop, part_id):
    # A plate of 140 mm by 100 mm; its far edge is shorter on the photo than its near one.
    spec = PhotoSpec(
        outline_mm=((-70, -50), (70, -50), (70, 50), (-70, 50)),
        surface=Surface(Cloth.GLASS_PLAIN, Side.TOOL, 1.6),
        camera=Camera(6.5, tilt_x_deg=12, width_px=WIDTH_PX, height_px=HEIGHT_PX),
        card=LaidCard("id1", (0, 18)),
        seed=6,
    )
    picture, truth = render(spec)
    room = enter(DESK, **CALM)
    room.go_to(photo_taken_in(workshop, as_jpeg(picture, NOON), part_id=part_id))
    corners = truth.part_px[:4]
    edges = [math.dist(corners[i], corners[(i + 1) % 4]) for i in (0, 2)]
    assert max(edges) > 1.02 * min(edges)

    room.tool("line")
    for start, end, wanted_mm in ((0, 1, 140), (2, 3, 140), (0, 3, 100), (0, 2, 172.05)):
        # 172.05 mm is the diagonal of 140 mm by 100 mm. One pixel of the screen is 0.2 mm here.
        drag_mouse(room.page, between([room.at(corners[start]), room.at(corners[end])]))
        said = room.page.locator("#kind-sheet [data-size]").inner_text()
        assert float(said.split()[0].replace("\u00a0", "")) == pytest.approx(wanted_mm, rel=0.01)
        room.page.get_by_role("button", name="Throw it away").click()


def test_a_loupe_shows_what_the_finger_covers(enter):
    room = enter(PHONE, **CALM)
    fingers = Fingers(room.page)
    loupe = room.page.locator("#loupe")
    room.tool("outline")
    path = [room.at(point) for point in between([(300, 300), (500, 300), (500, 500)])]
    fingers.put("touchStart", path[0])
    for spot in path[1:]:
        fingers.put("touchMove", spot)
    expect(loupe).to_be_visible()
    circle = loupe.bounding_box()
    x, y = path[-1]
    assert not (
        circle["x"] - 20 < x < circle["x"] + circle["width"] + 20
        and circle["y"] - 20 < y < circle["y"] + circle["height"] + 20
    )
    # Two and a half times closer: what is so much of the screen fills the circle.
    assert room.page.evaluate(AS_UNDER_THE_FINGER, [x, y, 2.5]) < 12
    fingers.put("touchEnd")
    expect(loupe).to_be_hidden()
    room.page.get_by_role("button", name="Throw it away").click()

    room.tool("spot")  # a finger that rests places the spot where it lifts
    fingers.put("touchStart", room.at((700, 300)))
    expect(loupe).to_be_visible()
    for point in ((720, 320), (780, 380), (820, 400)):
        fingers.put("touchMove", room.at(point))
    fingers.put("touchEnd")
    expect(loupe).to_be_hidden()
    room.choose("Dry spot")
    assert math.dist(room.mark()["points"][0], (820, 400)) <= 3  # a pixel of this screen is three


# How far, on average and of 255, the loupe differs from the picture on the screen at eight places
# round its middle, between the arms of its cross.
AS_UNDER_THE_FINGER = """([x, y, closer]) => {
  const loupe = document.getElementById("loupe");
  const shown = document.querySelector("#picture canvas");
  const { left, top, width } = shown.getBoundingClientRect();
  const [dense, own] = [shown.width / width, loupe.width / 128];
  const at = (canvas, px, py) =>
    [...canvas.getContext("2d").getImageData(px, py, 1, 1).data].slice(0, 3);
  let [off, count] = [0, 0];
  for (let turn = 0; turn < 8; turn += 1) {
    const angle = Math.PI / 8 + (turn * Math.PI) / 4;
    const [dx, dy] = [45 * Math.cos(angle), 45 * Math.sin(angle)];
    const seen = at(loupe, (64 + dx) * own, (64 + dy) * own);
    const there = at(shown, (x - left + dx / closer) * dense, (y - top + dy / closer) * dense);
    seen.forEach((value, i) => { off += Math.abs(value - there[i]); count += 1; });
  }
  return off / count;
}"""


def test_a_loupe_shows_the_corner_that_a_finger_drags(enter):
    room = enter(PHONE, **CALM)
    fingers = Fingers(room.page)
    room.tool("box")
    fingers.stroke([room.at(point) for point in between([(400, 250), (800, 600)])])
    room.choose("Dry spot")
    room.tool("look")
    corner = room.page.get_by_role("button", name="Corner 3 of 4").bounding_box()
    x, y = corner["x"] + 24, corner["y"] + 24
    fingers.put("touchStart", (x, y))
    for step in range(1, 6):
        fingers.put("touchMove", (x + 4 * step, y + 2 * step))
    expect(room.page.locator("#loupe")).to_be_visible()
    expect(room.page.locator("#readout")).to_contain_text("mm")
    fingers.put("touchEnd")
    expect(room.page.locator("#loupe")).to_be_hidden()
    expect(room.page.locator("#hint")).to_contain_text("moved")


def test_an_outline_that_crosses_itself_is_said_so_before_it_is_sent(enter):
    room = enter(DESK, **CALM)
    room.tool("outline")
    for corner in ((300, 200), (700, 600), (700, 200), (300, 600), (300, 200)):
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#hint")).to_contain_text("crosses itself")
    expect(room.page.locator("#kind-sheet")).to_be_hidden()

    room.page.locator("#draw-back").click()  # without its last corner it is a triangle
    room.page.locator("#draw-done").click()
    room.choose("Dry spot")
    assert len(room.mark()["points"]) == 3

    room.tool("look")
    room.page.get_by_role("button", name="Add a corner after corner 1").click()
    expect(room.page.locator("#hint")).to_contain_text("moved")
    before = room.mark()["points"]
    grip = room.page.get_by_role("button", name="Corner 2 of 4").bounding_box()
    across = room.at((760, 300))  # beyond the side of the triangle opposite
    drag_mouse(room.page, between([(grip["x"] + 24, grip["y"] + 24), across]))
    expect(room.page.locator("#hint")).to_contain_text("cross itself")
    assert room.mark()["points"] == before


def test_corners_half_drawn_are_back_when_the_page_was_closed_in_the_middle(enter):
    room = enter(PHONE, **CALM)
    room.tool("outline")
    fingers = Fingers(room.page)
    for corner in ((300, 200), (700, 250), (650, 600)):
        fingers.tap(room.at(corner))
    expect(room.page.locator("#draw-done")).to_be_visible()

    room.open()
    expect(room.page.locator("#hint")).to_contain_text("half drawn is back")
    room.page.locator("#draw-done").click()
    room.choose("Dry spot")

    assert len(room.mark()["points"]) == 3
    room.open()
    expect(room.page.locator("#draw-bar")).to_be_hidden()


def test_a_mark_of_a_closed_finding_is_read_and_not_moved(enter, workshop):
    room = enter(DESK, **CALM)
    room.tool("box")
    drag_mouse(room.page, between([room.at((400, 250)), room.at((800, 600))]))
    room.choose("Dry spot")
    finding = room.mark()["finding_id"]
    with workshop.app_context(), transaction() as session:
        decide(session, finding, Outcome.REPAIR, reason="", at=NOON)
    room.open()
    room.page.locator("[data-mark]").click()

    expect(room.page.locator("#mark-name")).to_contain_text(f"finding {finding} closed")
    expect(room.page.locator(".handle")).to_have_count(0)
    expect(room.page.locator("#mark-delete")).to_be_hidden()
    room.page.keyboard.press("Delete")
    expect(room.page.locator("#hint")).to_contain_text("open it again")
    assert len(room.kept["marks"]) == 1
