"""Trials through the web: planned, run panel by panel, looked at, decided."""

import csv
import io
import re
from xml.etree import ElementTree

import pytest

from defectlog.bench.trial_deal import TrialPlan, plan_trial
from defectlog.bench.trial_verdict import Showing
from defectlog.records import Build, Trial, TrialResult
from defectlog.web.trial_view import drawings
from tests.builders import NOON, make_part, make_photo
from tests.measured import add_measurement, add_series

ASKED = {
    "question": "Does tack adhesive on the mould cost voids?",
    "part": "1",
    "fact": "tack_adhesive",
    "result": "void fraction, tool side at demould",
    "by_day": "no",
}
SVG = "{http://www.w3.org/2000/svg}"
SETTINGS = {"setting-1": "none", "setting-2": "light", "difference": "0,1"}


def writing(app):
    return app.extensions["defectlog"][0].write()


@pytest.fixture
def part_id(app):
    with writing(app) as session, session.begin():
        part = make_part(session, "Test panel")
        add_series(
            session, part, [0.0019, 0.002, 0.0022, 0.0021], process="infusion", tack_adhesive="none"
        )
        return part.id


@pytest.fixture
def trial(app, part_id):
    plan = TrialPlan(
        part_id=part_id,
        question=ASKED["question"],
        fact="tack_adhesive",
        settings=("none", "light"),
        result=TrialResult.VOIDS,
        smallest_difference=0.001,
        per_setting=2,
    )
    with writing(app) as session, session.begin():
        return plan_trial(session, plan, at=NOON, seed=4).id


def measure_panels(app, number: int, values: dict[str, float]) -> None:
    """A photo and a measurement on every panel that is started."""
    with writing(app) as session, session.begin():
        for run in session.get(Trial, number).runs:
            if run.build and not run.build.photos:
                value = values[run.value] * (1 + 0.01 * run.block)
                add_measurement(session, make_photo(session, run.build), value)


def counted(client, sent: dict[str, str]):
    """The page of the number of panels."""
    return client.post("/trials/new", data=sent | {"step": "count"}, follow_redirects=True)


def start_all(client, number: int, panels: range) -> None:
    for panel in panels:
        client.post(f"/trials/{number}/panels/{panel}")


def test_an_empty_workshop_is_told_where_to_begin(client):
    page = client.get("/trials/").text

    assert "Name your first part" in page
    assert 'href="/trials/"' in page  # its tab


def test_without_a_trial_the_page_says_what_one_is(client, part_id):
    assert "you are told how many panels settle it" in client.get("/trials/").text


def test_the_question_comes_first_and_keeps_what_was_typed(client, part_id):
    assert "On to the settings" in client.get("/trials/new").text

    page = client.get("/trials/new", query_string=ASKED | {"fact": ""}).text
    assert "Nothing to vary is chosen" in page and ASKED["question"] in page


def test_what_panels_show_is_said_before_a_difference_is_named(client, part_id):
    page = client.get("/trials/new", query_string=ASKED).text

    assert "4\N{NO-BREAK SPACE}builds of this part made alike differ by" in page
    assert "Smallest difference shown" in page
    # What is in use now stands first.
    assert re.search(r'name="setting-1" value="none" checked', page)


def test_the_number_is_shown_before_anything_is_saved(app, client, part_id):
    page = counted(client, ASKED | SETTINGS).text

    assert re.search(r"of each setting, \d+ in all, would show a difference of 0\.1", page)
    assert "Keep the trial and deal the order" in page
    with writing(app) as session:
        assert session.query(Trial).count() == 0


def test_a_kept_trial_has_its_order_and_no_build_yet(app, client, part_id):
    answer = client.post("/trials/new", data=ASKED | SETTINGS | {"panels": "3", "step": "save"})

    assert answer.status_code == 303
    page = client.get(answer.location).text
    assert "Start panel 1, tack adhesive:" in page
    with writing(app) as session:
        (kept,) = session.query(Trial).all()
        assert (len(kept.runs), kept.smallest_difference) == (6, pytest.approx(0.001))
        assert "differ by a standard deviation" in kept.planned_words
        assert session.query(Build).count() == 4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"setting-2": ""}, "compares two settings"),
        ({"setting-2": "none"}, "stands above already"),
        ({"setting-2": "sticky"}, "is not one of the choices"),
        ({"difference": ""}, "what difference matters"),
        ({"difference": "-1"}, "is not above 0"),
        ({"difference": "much"}, "is not a number"),
        ({"panels": "2.5"}, "whole numbers"),
        ({"panels": ""}, "No number of panels"),
        ({"panels": "1"}, "no trial"),
        ({"panels": "1e9"}, "no trial"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(client, part_id, change, words):
    sent = ASKED | SETTINGS | {"panels": "3", "step": "save"} | change
    answer = client.post("/trials/new", data=sent)

    assert answer.status_code == 400
    assert words in answer.text and ASKED["question"] in answer.text


def test_without_builds_on_record_a_guess_will_do(app, client):
    with writing(app) as session, session.begin():
        make_part(session, "Test panel")
    assert "nothing on record says yet" in client.get("/trials/new", query_string=ASKED).text

    page = counted(client, ASKED | SETTINGS | {"spread": "0.1"}).text
    assert "17\N{NO-BREAK SPACE}panels of each setting" in page


def test_starting_a_panel_leads_to_its_build_that_says_so(client, trial):
    answer = client.post(f"/trials/{trial}/panels/1")
    build = client.get(answer.location).text
    sheet = client.get(answer.location + "/sheet").text

    for page in (build, sheet):
        assert f"Panel 1 of trial {trial}, tack adhesive: " in page
    # Pressed twice: the same build again.
    assert client.post(f"/trials/{trial}/panels/1").location == answer.location
    assert "Start panel 2," in client.get(f"/trials/{trial}").text


def test_values_stay_out_of_sight_until_somebody_looks(app, client, trial):
    start_all(client, trial, range(1, 4))
    measure_panels(app, trial, {"none": 0.002, "light": 0.007})

    before = client.get(f"/trials/{trial}").text
    assert "Look early all the same" in before and "<svg" not in before
    assert "0.71\N{NO-BREAK SPACE}%" not in before

    after = client.post(f"/trials/{trial}/look", follow_redirects=True).text
    assert "An early look, no verdict" in after and "<svg" in after
    assert "with 3 of 4 panels in" in after


def test_the_verdict_is_given_once_all_are_in(app, client, trial):
    start_all(client, trial, range(1, 5))
    too_early = client.post(f"/trials/{trial}/verdict", headers={"Accept": "text/html"})
    assert too_early.status_code == 422 and "still waits for 4 of 4" in too_early.text

    measure_panels(app, trial, {"none": 0.002, "light": 0.007})
    assert "Give the verdict" in client.get(f"/trials/{trial}").text
    page = client.post(f"/trials/{trial}/verdict", follow_redirects=True).text

    assert "points higher" in page and "interval of the difference" in page
    assert page.count('<circle class="dot__shape"') == 2 * 4
    assert "Give the verdict" not in page
    assert "points higher" in client.get("/trials/").text


def test_a_lost_panel_needs_its_reason_and_can_come_back(client, trial):
    refused = client.post(f"/trials/{trial}/lost", data={"panel": "2", "reason": ""})
    assert refused.status_code == 400 and "lost for a reason" in refused.text
    refused = client.post(f"/trials/{trial}/lost", data={"panel": "", "reason": "Slipped off"})
    assert refused.status_code == 400 and "No panel is chosen" in refused.text
    assert 'value="Slipped off"' in refused.text

    data = {"panel": "2", "reason": "Slipped off the <bench>"}
    page = client.post(f"/trials/{trial}/lost", data=data, follow_redirects=True).text
    assert "lost: Slipped off the &lt;bench&gt;" in page

    back = {"panel": "2", "back": "yes"}
    assert (
        "lost: " not in client.post(f"/trials/{trial}/lost", data=back, follow_redirects=True).text
    )


def test_a_trial_can_be_stopped_with_its_reason(client, trial):
    assert client.post(f"/trials/{trial}/stop", data={"stopped": ""}).status_code == 400

    data = {"stopped": "The can is no longer sold."}
    page = client.post(f"/trials/{trial}/stop", data=data, follow_redirects=True).text
    assert "Stopped without a verdict: The can is no longer sold." in page
    assert "Start panel" not in page
    assert client.post(f"/trials/{trial}/panels/1").status_code == 422


@pytest.mark.parametrize("fact", ["mass_g", "effort_min", "drop_end_mbar"])
def test_what_a_build_comes_to_cannot_be_set_from_panel_to_panel(client, part_id, fact):
    page = client.get("/trials/new", query_string=ASKED | {"fact": fact}).text

    assert f'value="{fact}"' not in page and "Nothing to vary is chosen" in page


@pytest.mark.parametrize("difference", ["1e308", "5000000", "1e-300"])
def test_a_difference_out_of_all_reason_is_a_sentence(client, part_id, difference):
    answer = counted(client, ASKED | SETTINGS | {"difference": difference})

    assert answer.status_code == 400
    assert "look at the number and its unit again" in answer.text and difference in answer.text


def test_a_setting_out_of_all_reason_is_not_written_out_in_digits(client, part_id):
    asked = ASKED | {"fact": "ambient_c", "setting-1": "1e308", "setting-2": "20"}
    page = counted(client, asked).text

    assert "Air temperature: the number is outside the range" in page


def test_no_more_settings_are_asked_for_than_there_are(client, part_id):
    # Pace is slow or rushed; adhesive is none, light or heavy; a temperature is any number.
    for fact, number in (("peel_pace", 2), ("tack_adhesive", 3), ("ambient_c", 4)):
        page = client.get("/trials/new", query_string=ASKED | {"fact": fact}).text
        assert (f"setting-{number}" in page, f"setting-{number + 1}" in page) == (True, False)


def test_nothing_is_styled_or_scripted_inline(app, client, trial):
    start_all(client, trial, range(1, 5))
    measure_panels(app, trial, {"none": 0.002, "light": 0.007})
    pages = ["/trials/", f"/trials/{trial}", "/trials/new"]
    client.post(f"/trials/{trial}/verdict")

    for path in pages:
        page = client.get(path).text
        assert not re.search(r"\sstyle=|\son[a-z]+=|<style|<script(?![^>]*\bsrc=)", page)


@pytest.mark.parametrize("path", ["/trials/9", "/trials/x"])
def test_a_trial_there_is_not_is_not_found(client, path):
    assert client.get(path).status_code == 404


def svgs(page: str) -> list[ElementTree.Element]:
    return [ElementTree.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL)]


def test_every_dot_of_a_decided_trial_opens_the_build_of_its_panel(app, client, trial):
    start_all(client, trial, range(1, 5))
    measure_panels(app, trial, {"none": 0.002, "light": 0.004})
    client.post(f"/trials/{trial}/verdict")

    for drawing in svgs(client.get(f"/trials/{trial}").text):
        links = drawing.findall(f"{SVG}a")
        assert sorted(link.get("href") for link in links) == [f"/builds/{n}" for n in range(5, 9)]
        assert all(re.match(r"Panel \d, build \d, ", link.get("aria-label")) for link in links)


def test_the_picture_of_a_trial_shows_as_many_dots_as_the_csv_has_values(app, client, trial):
    start_all(client, trial, range(1, 5))
    measure_panels(app, trial, {"none": 0.002, "light": 0.004})
    client.post(f"/trials/{trial}/verdict")

    svg = client.get(f"/trials/{trial}/panels.svg")
    rows = list(csv.DictReader(io.StringIO(client.get(f"/trials/{trial}/panels.csv").text)))

    root = ElementTree.fromstring(svg.data)
    assert svg.headers["Content-Type"] == "image/svg+xml"
    assert len(list(root.iter(f"{SVG}circle"))) == sum(bool(row["value"]) for row in rows) == 4
    words = " ".join(root.itertext())
    assert ASKED["question"] in words and "interval of the difference" in words
    assert client.get(f"/trials/{trial}/panels.png").data[:4] == b"\x89PNG"


def test_values_of_a_running_trial_leak_neither_by_csv_nor_by_picture(app, client, trial):
    start_all(client, trial, range(1, 3))
    measure_panels(app, trial, {"none": 0.002, "light": 0.004})

    rows = list(csv.DictReader(io.StringIO(client.get(f"/trials/{trial}/panels.csv").text)))
    picture = client.get(f"/trials/{trial}/panels.svg")

    assert [row["value"] for row in rows] == [""] * 4
    assert [row["setting"] for row in rows] and rows[0]["build"] == "5"
    assert picture.status_code == 422
    assert "look early" in picture.text and "svg+xml" not in picture.headers["Content-Type"]


def test_the_bench_says_what_a_running_trial_asks_for_next(app, client, trial):
    assert "Make panel 1 of 4, tack adhesive: " in client.get("/").text

    start_all(client, trial, range(1, 5))
    page = client.get("/").text
    assert "Finish builds 5, 6, 7, 8: a panel counts once its tool side at demould is " in page
    assert "1\N{NO-BREAK SPACE}trial running" in page

    measure_panels(app, trial, {"none": 0.002, "light": 0.004})
    assert "Give the verdict: every panel is in" in client.get("/").text
    client.post(f"/trials/{trial}/verdict")
    assert "Trials running" not in client.get("/").text


@pytest.mark.parametrize("result", [TrialResult.PINHOLES, TrialResult.FINDINGS])
def test_any_result_is_planned_and_kept_through_the_form(app, client, part_id, result):
    asked = ASKED | {"result": result.value}
    first = client.get("/trials/new", query_string=asked)
    sent = asked | SETTINGS | {"difference": "5", "spread": "4", "panels": "3"}
    sized = counted(client, sent).text
    kept = client.post("/trials/new", data=sent | {"step": "save"})

    assert first.status_code == 200
    assert "would show a difference of 5\N{NO-BREAK SPACE}" in sized
    assert kept.status_code == 303
    assert "waits" not in client.get(kept.location).text
    assert client.get("/trials/").status_code == 200


def test_the_form_offers_what_can_be_varied_by_the_hour_it_belongs_to(client, part_id):
    page = client.get("/trials/new").text

    assert '<optgroup label="Resin">' in page and 'value="plies"' in page
    assert '<option value="">All kinds</option>' in page


def test_a_lay_up_is_typed_ply_by_ply(app, client, part_id):
    plies = {"fact": "plies", "setting-1": "woven glass; 200", "setting-2": "mat; 300\nmat; 300"}
    sent = ASKED | SETTINGS | plies | {"panels": "2", "step": "save"}

    page = client.get(client.post("/trials/new", data=sent).location).text

    assert "mat 300\N{NO-BREAK SPACE}g/m²" in page


def test_the_number_has_an_address_that_the_way_back_leads_to(client, part_id):
    sent = ASKED | SETTINGS | {"step": "count", "csrf_token": "secret", "once": "secret"}

    answer = client.post("/trials/new", data=sent)

    assert answer.status_code == 303 and "secret" not in answer.location
    assert "Keep the trial and deal the order" in client.get(answer.location).text


def test_a_lay_up_too_long_for_the_sheet_is_cut_and_numbered_beside_its_strip(app, part_id):
    cloths = ("woven glass", "stitched glass")
    ply = {"areal_weight_g_m2": 200.0, "orientation": "0/90", "face": ""}
    plies = [[{"material": cloth, **ply} for _ in range(3)] for cloth in cloths]
    with writing(app) as session, session.begin():
        plan = TrialPlan(part_id, "?", "plies", tuple(plies), TrialResult.VOIDS, 0.001, 2)
        trial = plan_trial(session, plan, at=NOON, seed=4)
        nothing = Showing((), (), (), ((), ()))
        strips = {name: drawn.strips for name, drawn in drawings(trial, nothing)}

    assert [strip.words[:6] for strip in strips["phone"]] == ["1. wov", "2. sti"]
    assert all(len(strip.words) <= 45 for strip in strips["phone"])


def test_the_surface_that_is_judged_comes_along_from_the_question_to_the_trial(client, part_id):
    asked = ASKED | {"surface": "bag-peeled"}
    first = client.get("/trials/new", query_string=asked).text
    kept = client.post("/trials/new", data=asked | SETTINGS | {"panels": "3", "step": "save"})
    odd = client.get("/trials/new", query_string=ASKED | {"surface": "lid"}).text

    assert "judged by void fraction, bag side after peel ply" in first
    assert "once its bag side after peel ply is measured" in client.get(kept.location).text
    assert "There is no such surface" in odd
