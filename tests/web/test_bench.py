"""The start page: what to do first, and what waits."""

from defectlog.bench.builds import start_build
from defectlog.bench.lessons import write_lesson
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


def test_an_empty_workshop_is_asked_for_its_first_part(client):
    page = client.get("/").get_data(as_text=True)

    assert "Name your first part" in page
    assert "defectlog demo" in page


def test_with_a_part_and_no_build_the_bench_says_to_start_one(client, kept):
    kept(make_part)

    page = client.get("/").get_data(as_text=True)

    assert "A build starts with its lay-up sheet: start one above." in page
    assert page.count("Start a build") == 1
    assert "Name your first part" not in page


def test_findings_builds_and_lessons_that_wait_lie_on_the_bench(client, kept):
    def work(session):
        first = make_build(session)
        finding = make_finding(session, make_photo(session, first))
        write_lesson(session, finding.id, "Brake the media 40 mm short.", at=NOON)
        start_build(session, first.part_id, NOON)

    kept(work)

    page = client.get("/").get_data(as_text=True)

    assert "1\xa0finding to decide, 2\xa0builds in progress, 1\xa0lesson waiting" in page
    assert 'href="/findings/1"' in page
    assert "Build 2 · Locker door" in page
    assert "Brake the media 40 mm short." in page


def test_the_tab_of_the_open_page_is_marked_and_leads_nowhere_dead(client, app):
    page = client.get("/").get_data(as_text=True)

    assert '<a href="/" aria-current="page">Bench</a>' in page
    if "trials.index" not in app.view_functions:
        assert "Trials" not in page


def test_every_form_carries_the_token_against_forged_requests(client, app):
    app.config["WTF_CSRF_ENABLED"] = True

    assert client.post("/workshop/parts/new", data={"name": "Door"}).status_code == 400
    assert 'name="csrf_token"' in client.get("/workshop/parts/new").get_data(as_text=True)
