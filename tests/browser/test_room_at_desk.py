"""The photo room at a desk: a mouse, keys alone, and figures beside the picture."""

import io

import pytest
from PIL import Image

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import expect

from defectlog.records import Face
from tests.browser.room import DESK, PHONE, area, near
from tests.taken_in import photo_taken_in

pytestmark = pytest.mark.browser


def test_only_the_drawn_region_is_measured_and_it_can_be_logged(enter):
    room = enter(DESK)
    room.tool("region")
    for corner in ((620, 120), (1100, 120), (1100, 420), (620, 420), (620, 120)):
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#region-words")).to_contain_text("cm²")
    room.page.locator("#measure").click()
    expect(room.page.locator(".result__figure")).to_contain_text("%", timeout=60_000)

    assert room.accessibility_faults() == []
    (measured,) = room.kept["measurements"]
    assert area(measured["region"]) == pytest.approx(480 * 300, rel=0.02)
    room.page.get_by_role("button", name="Log it as a finding").click()
    room.choose("Pinholes on the tool side")
    assert room.mark()["points"] == measured["region"]


def test_the_region_cleared_the_whole_photos_figure_comes_back_and_speaks_of_the_bench(enter):
    room = enter(DESK)
    figure, said = room.page.locator(".result__figure"), room.page.locator("#result .note")
    room.page.locator("#measure").click()
    expect(figure).to_contain_text("%", timeout=60_000)
    expect(said).to_contain_text("bench")
    whole = figure.inner_text()

    said.get_by_role("button", name="Outline the part").click()
    for corner in ((620, 120), (1100, 120), (1100, 420), (620, 120)):
        room.page.mouse.click(*room.at(corner))
    expect(room.page.locator("#result")).to_have_text("Not measured like this yet.")
    room.page.locator("#measure-settings summary").click()
    room.page.locator("#smallest").fill("some")
    room.page.locator("#measure").click()
    expect(room.page.locator("#measure-fault")).to_contain_text("not a number")
    room.watch.faults.clear()  # refused on purpose
    room.page.locator("#region-clear").click()

    expect(figure).to_have_text(whole)
    expect(said).to_contain_text("bench")
    expect(room.page.locator("#measure-fault")).to_be_hidden()


def test_the_field_for_a_known_length_is_one_line_high(enter):
    room = enter(DESK)
    room.page.locator("#scale-chip").click()
    room.page.get_by_role("button", name="Point out a known length").click()
    for end in ((200, 120), (1000, 120)):
        room.page.mouse.click(*room.at(end))

    assert 44 <= room.page.locator("#length").bounding_box()["height"] <= 72


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


def test_marks_are_in_pixels_of_the_original_though_a_smaller_copy_is_shown(
    enter, workshop, part_id, number
):
    picture = io.BytesIO()
    Image.new("RGB", (6000, 4000), (120, 110, 90)).save(picture, "JPEG")
    large = photo_taken_in(
        workshop, picture.getvalue(), part_id=part_id, name="large.jpg", face=Face.BAG
    )
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


def test_details_saved_on_another_device_meanwhile_stay(enter):
    desk, phone = enter(DESK), enter(PHONE)
    for room, stage, note in ((phone, "after trim", "dry at the core"), (desk, None, "soft edge")):
        room.page.get_by_role("button", name="Details").click()
        if stage:
            room.page.locator("#stage").select_option(stage)
        room.page.locator("#note").fill(note)
        room.page.get_by_role("button", name="Save details").click()
        expect(room.page.locator("#hint")).to_contain_text("details saved")

    photo = desk.kept["photo"]
    assert (photo["stage"], photo["note"]) == ("after trim", "dry at the core\nsoft edge")
    expect(desk.page.locator("#note")).to_have_value(photo["note"])
    expect(desk.page.locator("#stage")).to_have_value("after trim")


def test_a_few_letters_find_a_kind_among_many(enter):
    room = enter(DESK)
    room.tool("spot")
    room.page.mouse.click(*room.at((300, 300)))
    if len(room.kept["kinds"]) <= 10:
        pytest.skip("the guide has so few kinds that all are seen at once")

    expect(room.page.locator("#kind-find")).to_be_focused()
    room.page.keyboard.type("bridg")
    expect(room.page.locator("#kind-kinds .choice:visible")).to_have_count(1)
    with room.page.expect_response("**/marks"):
        room.page.keyboard.press("Enter")

    assert room.mark()["kind"] == "bridging"


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
