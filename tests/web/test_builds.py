"""The screens of a build: what is written on them, what is kept, what is refused."""

import html
import re
from datetime import UTC, datetime

import pytest
from sqlalchemy import select

from defectlog.bench.builds import save_facts, start_build
from defectlog.bench.lessons import write_lesson
from defectlog.bench.parts import LimitPlan
from defectlog.facts import FACTS, Stage
from defectlog.records import Build, LessonUse
from tests.builders import NOON, make_build, make_finding, make_part, make_photo

PLIES = [
    {"material": "woven glass", "areal_weight_g_m2": 200.0, "orientation": "0/90", "face": "tool"}
]


def facts_of(kept, number):
    return kept(lambda session: dict(session.get(Build, number).known))


def text(answer):
    return " ".join(answer.get_data(as_text=True).replace("\xa0", " ").split())


def test_a_build_is_started_from_the_form_and_leads_to_its_page(client, kept):
    part = kept(lambda s: make_part(s).id)

    answer = client.post("/builds/new", data={"part": str(part), "once": "a"})

    assert answer.status_code == 303
    page = client.get(answer.headers["Location"])
    assert page.status_code == 200
    assert "Locker door" in text(page)


def test_a_build_form_sent_twice_starts_one_build(client, kept):
    part = kept(lambda s: make_part(s).id)

    for _ in range(2):
        client.post("/builds/new", data={"part": str(part), "once": "same"})

    assert kept(lambda s: len(s.scalars(select(Build)).all())) == 1


def test_the_way_back_and_a_second_press_lead_to_the_build_just_started(client, kept):
    part = kept(lambda s: make_part(s).id)

    first, second = (
        client.post("/builds/new", data={"part": str(part), "once": once}) for once in "ab"
    )

    assert second.location == first.location
    assert "no second one was started" in text(client.get(second.location))
    assert kept(lambda s: len(s.scalars(select(Build)).all())) == 1


def test_a_build_of_no_part_is_refused_beside_the_field(client, kept):
    kept(make_part)

    answer = client.post("/builds/new", data={"part": "", "once": "a"})

    assert answer.status_code == 400
    assert "choose what this build will be" in text(answer)


def test_a_build_that_is_not_there_is_said_to_be_missing(client):
    answer = client.get("/builds/99")

    assert answer.status_code == 404
    assert "There is no build 99" in text(answer)


@pytest.mark.parametrize("stage", list(Stage))
def test_the_form_of_a_stage_has_every_fact_with_its_unit_and_range(client, kept, stage):
    kept(make_build)

    page = text(client.get(f"/builds/1/facts/{stage.key}"))

    for fact in FACTS.values():
        assert (f'name="{fact.name}"' in page) == (fact.stage is stage)
        if fact.stage is stage and fact.kind == "number":
            assert " ".join(fact.range_words().split()) in page


def test_facts_are_saved_half_finished_and_with_a_decimal_comma(client, kept):
    kept(make_build)

    answer = client.post(
        "/builds/1/facts/bag",
        data={"drop_start_mbar": "11,5", "drop_end_mbar": "", "flow_media": "yes", "once": "a"},
    )

    assert answer.status_code == 303
    assert facts_of(kept, 1) == {"drop_start_mbar": 11.5, "flow_media": True}


def test_an_emptied_field_takes_its_fact_back(client, kept):
    kept(lambda s: make_build(s, mass_g=640.0, area_dm2=21.2))

    client.post("/builds/1/facts/weigh", data={"mass_g": "", "area_dm2": "21.2", "once": "a"})

    assert facts_of(kept, 1) == {"area_dm2": 21.2}


def opened(client, path):
    """The fields of a form as a browser would send them, had nobody typed anything."""
    page = client.get(path).get_data(as_text=True)
    fields = {}
    for tag in re.findall(r"<input[^>]*>", page):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and ('type="radio"' not in tag or " checked" in tag):
            fields[name[1]] = html.unescape(value[1]) if value else ""
    for name, body in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', body)
        fields[name] = html.unescape(chosen[1]) if chosen else ""
    for name, body in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', page, re.S):
        fields[name] = html.unescape(body).strip().replace("\n", "\r\n")
    return fields


def test_a_form_left_open_changes_only_what_was_typed_into_it(client, kept):
    layup = {"plies": PLIES, "ambient_c": 20.5, "gelcoat": True, "core": "pvc-foam"}
    kept(lambda s: make_build(s, **layup))
    phone = opened(client, "/builds/1/facts/layup")
    desk = opened(client, "/builds/1/facts/layup")

    client.post("/builds/1/facts/layup", data={**phone, "ambient_c": "22", "release_state": "worn"})
    answer = client.post("/builds/1/facts/layup", data={**desk, "humidity_pct": "55"})

    assert answer.status_code == 303
    now = {"ambient_c": 22.0, "release_state": "worn", "humidity_pct": 55.0}
    assert facts_of(kept, 1) == layup | now


def test_a_field_changed_on_two_screens_is_refused_with_both_values_and_then_kept(client, kept):
    kept(lambda s: make_build(s, mass_g=640.0, area_dm2=21.2))
    phone, desk = (opened(client, "/builds/1/facts/weigh") for _ in range(2))

    client.post("/builds/1/facts/weigh", data={**phone, "mass_g": "655", "effort_min": "90"})
    answer = client.post("/builds/1/facts/weigh", data={**desk, "mass_g": "650", "area_dm2": "22"})

    assert answer.status_code == 409
    page = text(answer)
    assert "“655 g” was saved on another screen meanwhile; here stands “650 g”" in page
    assert 'name="mass_g" value="650"' in page and 'name="area_dm2" value="22"' in page
    # What nobody typed here is shown as it is by now.
    assert 'name="effort_min" value="90"' in page
    assert facts_of(kept, 1) == {"mass_g": 655.0, "area_dm2": 21.2, "effort_min": 90.0}

    again = re.findall(r'name="(was\.[^"]*|mass_g|area_dm2|effort_min)" value="([^"]*)"', page)
    assert client.post("/builds/1/facts/weigh", data=dict(again)).status_code == 303
    assert facts_of(kept, 1) == {"mass_g": 650.0, "area_dm2": 22.0, "effort_min": 90.0}


def test_a_fact_taken_back_elsewhere_is_not_written_down_again_unseen(client, kept):
    kept(lambda s: make_build(s, mass_g=640.0))
    desk = opened(client, "/builds/1/facts/weigh")
    kept(lambda s: save_facts(s, 1, {"mass_g": None}, NOON))

    answer = client.post("/builds/1/facts/weigh", data={**desk, "mass_g": "650"})

    assert answer.status_code == 409
    assert "it was emptied on another screen meanwhile; here stands “650 g”" in text(answer)
    assert facts_of(kept, 1) == {}


def test_the_same_value_typed_on_two_screens_is_no_fault(client, kept):
    kept(make_build)
    phone, desk = (opened(client, "/builds/1/facts/weigh") for _ in range(2))

    for form in (phone, desk):
        sent = client.post("/builds/1/facts/weigh", data={**form, "once": "", "mass_g": "640"})
        assert sent.status_code == 303
    assert facts_of(kept, 1) == {"mass_g": 640.0}


def test_what_was_saved_is_said_where_the_page_opens(client, kept):
    kept(make_build)

    answer = client.post("/builds/1/facts/bag", data={"drop_start_mbar": "12", "once": "a"})
    page = text(client.get(answer.location))

    assert answer.location.endswith("#bag")
    assert page.count("bag and drop test: saved.") == 1
    assert page.index('id="bag"') < page.index("drop test: saved.") < page.index('id="resin"')


def test_a_wrong_field_is_named_and_everything_typed_is_kept(client, kept):
    kept(make_build)
    typed = {"resin_mixed_g": "a lot", "resin_left_g": "41,5", "resin_system": "slow <epoxy>"}

    answer = client.post("/builds/1/facts/resin", data={**typed, "once": "a"})

    page = text(answer)
    assert answer.status_code == 400
    assert "“a lot” is not a number" in page
    assert 'aria-describedby="f-resin_mixed_g-error' in page
    assert 'value="a lot"' in page
    assert 'value="41,5"' in page
    assert 'value="slow &lt;epoxy&gt;"' in page
    assert facts_of(kept, 1) == {}


def test_every_wrong_field_is_named_at_once(client, kept):
    kept(make_build)

    answer = client.post(
        "/builds/1/facts/cure", data={"cure_c": "2500", "cure_h": "x", "once": "a"}
    )

    assert "2 fields need another look" in text(answer)
    assert text(answer).count("aria-invalid") == 2


def test_the_fold_opens_when_a_fault_lies_behind_it(client, kept):
    kept(make_build)

    answer = client.post("/builds/1/facts/cure", data={"postcure_c": "x", "once": "a"})

    assert "<details open>" in text(answer)


def test_the_fold_opens_when_a_proposal_lies_behind_it(client, kept):
    def two_builds(session):
        first = make_build(session, postcure_c=60.0)
        start_build(session, first.part_id, NOON)

    kept(two_builds)

    assert "<details open>" in text(client.get("/builds/2/facts/cure"))


def test_settings_of_the_build_before_are_proposed_and_readings_are_not(client, kept):
    def two_builds(session):
        first = make_build(
            session, flow_media=True, peel_ply="coated", drop_start_mbar=11.0, vacuum_abs_mbar=9.0
        )
        start_build(session, first.part_id, NOON)

    kept(two_builds)

    page = text(client.get("/builds/2/facts/bag"))

    assert page.count("same as build 1</span>") == 2
    assert 'value="coated" checked' in page
    assert 'value="11"' not in page
    assert facts_of(kept, 2) == {}


def test_nothing_is_proposed_once_the_stage_has_been_saved(client, kept):
    def two_builds(session):
        first = make_build(session, flow_media=True, peel_ply="coated")
        second = start_build(session, first.part_id, NOON)
        save_facts(session, second.id, {"peel_ply": "none"}, NOON)

    kept(two_builds)

    assert "same as build" not in text(client.get("/builds/2/facts/bag"))


def test_the_drop_test_is_said_as_a_rate_with_its_unit(client, kept):
    # (14 - 11) mbar in 20 min = 0.15 mbar/min.
    kept(lambda s: make_build(s, drop_start_mbar=11.0, drop_end_mbar=14.0, drop_minutes=20.0))

    page = text(client.get("/builds/1"))

    assert "11 → 14 mbar in 20 min:" in page
    assert "0.15 mbar/min: tight" in page


def test_a_finding_stands_on_its_build_with_size_limit_and_next_step(client, kept):
    def build_with_finding(session):
        part = make_part(session, limits={"dry-spot": LimitPlan(largest_mm=9.5)})
        photo = make_photo(session, make_build(session, part), px_per_mm=10.0)
        make_finding(session, photo)  # a line of 100 px at 10 px/mm: 10 mm

    kept(build_with_finding)

    page = text(client.get("/builds/1"))

    # The scale is sure to 1 %, both ends are pointed at to 3 px: √(1² + (√2·3)²) = 4.4 %.
    assert "10.0 ± 0.4 mm long, limit 9.5 mm: over" in page
    assert "Find the cause" in page
    assert "1 finding needs a decision" in page


def test_a_build_with_an_open_finding_is_not_released(client, kept):
    kept(lambda s: make_finding(s, make_photo(s, make_build(s))))

    answer = client.post("/builds/1/release", data={"once": "a"})

    assert answer.status_code == 422
    assert "decide the outcome of each first" in text(answer).lower()
    assert kept(lambda s: s.get(Build, 1).released_at) is None


def test_a_release_can_be_taken_back(client, kept):
    kept(make_build)

    client.post("/builds/1/release", data={"once": "a"})
    assert "Released" in text(client.get("/builds/1"))
    client.post("/builds/1/reopen", data={"once": "b"})

    assert kept(lambda s: s.get(Build, 1).released_at) is None


def lesson_due(session):
    first = make_build(session, plies=PLIES, process="infusion")
    finding = make_finding(session, make_photo(session, first))
    write_lesson(session, finding.id, "Brake the media 40 mm short.", at=NOON)
    start_build(session, first.part_id, NOON)


def test_a_lesson_waits_on_the_next_build_until_it_is_answered(client, kept):
    kept(lesson_due)
    assert "Brake the media" not in text(client.get("/builds/1/sheet"))
    assert "Brake the media" in text(client.get("/builds/2"))

    client.post("/builds/2/lessons/1", data={"is_applied": "no", "once": "a"})

    assert kept(lambda s: s.scalars(select(LessonUse)).one().is_applied) is False
    assert "Skipped on this build." in text(client.get("/builds/2"))


def test_the_lay_up_sheet_carries_plies_lessons_and_lines_to_write_on(client, kept):
    kept(lesson_due)

    page = text(client.get("/builds/2/sheet"))

    assert "Brake the media 40 mm short." in page
    assert "<td>woven glass</td>" in page
    assert "As on build 1" in page
    assert 'Resin mixed</span> <span class="blank"></span> <span>g</span>' in page


def test_the_sheet_says_how_much_resin_earlier_builds_needed(client, kept):
    # Used over planned: (115 - 10) / 100, (113 - 10) / 100, (117 - 10) / 100 = 5, 3, 7 % more;
    # mean 5, s = 2, t(0.975, 2) = 4.303 (NIST/SEMATECH e-Handbook, table 1.3.6.7.2):
    # 5 ± 4.303 · 2 · sqrt(4/3) = 5 ± 9.94, so -4.9 to 15 %.
    def four_builds(session):
        part = make_part(session)
        for mixed in (115.0, 113.0, 117.0):
            make_build(session, part, resin_planned_g=100.0, resin_mixed_g=mixed, resin_left_g=10.0)
        make_build(session, part)

    kept(four_builds)

    page = text(client.get("/builds/4/sheet"))

    assert "The last 3 builds of this part needed 5 % more" in page
    assert "between 4.9 % less and 15 % more" in page


def test_the_list_can_be_narrowed_to_one_part_and_is_newest_first(client, kept):
    def three_builds(session):
        door = make_part(session)
        make_build(session, door)
        make_build(session, make_part(session, "Bow bulkhead"))
        start_build(session, door.id, datetime(2026, 4, 1, tzinfo=UTC))

    kept(three_builds)

    everything, doors = text(client.get("/builds/")), text(client.get("/builds/?part=1"))

    assert everything.index("Build 3 ·") < everything.index("Build 2 ·")
    assert "Build 2 ·" not in doors
    assert "Build 1 ·" in doors


def test_photos_are_shown_by_stage_with_what_was_measured(client, kept):
    kept(lambda s: make_photo(s, make_build(s)))

    page = text(client.get("/builds/1"))

    assert "At demould" in page
    assert 'href="/photos/1"' in page
    assert "Tool side, not measured" in page


def test_a_remark_is_kept_as_it_was_typed(client, kept):
    number = kept(lambda s: make_build(s).id)

    answer = client.post(f"/builds/{number}/note", data={"note": "Damp day.\nTape <new> roll."})

    assert answer.status_code == 303
    assert kept(lambda s: s.get(Build, number).note) == "Damp day.\nTape <new> roll."
    assert "Tape &lt;new&gt; roll." in text(client.get(f"/builds/{number}"))
