"""The board of lessons: where each came from, where it was due, what it changed."""

import pytest

from defectlog.bench.decisions import judge_cause
from defectlog.bench.lessons import use_lesson, write_lesson
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


@pytest.fixture
def lesson(app):
    """A lesson learnt on the first of two builds with it, applied on three without it."""
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session)
        for _ in range(2):
            photo = make_photo(session, make_build(session, part))
            finding = make_finding(session, photo, kind="peel-tear")
        judge_cause(session, finding.id, "lifted-not-folded", True, seen="straight up", at=NOON)
        made = write_lesson(session, finding.id, "Fold the peel ply right back", at=NOON)
        for _ in range(3):
            build = make_build(session, part)
            make_photo(session, build)
            use_lesson(session, made.id, build.id, True, NOON)
        return made.id


def test_an_empty_board_says_where_lessons_come_from(client):
    assert "Open a finding, find its cause" in client.get("/lessons/").text


def test_the_board_has_its_four_states_and_each_lesson_its_story(client, lesson):
    board = client.get("/lessons/").text

    places = [board.index(f">{state}") for state in ("Proposed", "On trial", "Kept", "Dropped")]
    assert places == sorted(places)
    assert "Due on 3\N{NO-BREAK SPACE}builds: applied on 3." in board
    assert "Not seen on 3\N{NO-BREAK SPACE}builds with the lesson" in board
    assert "times as often as before (95 % interval)" in board
    assert "from build 2" in board


def test_a_lesson_names_its_cause_and_its_builds(client, lesson):
    page = client.get(f"/lessons/{lesson}").text

    assert "Cause: " in page and "lifted-not-folded" not in page
    assert page.count("not found") == 3
    assert "so before looks worse" in page


@pytest.mark.parametrize("state", ["proposed", "on trial", "kept"])
def test_a_lesson_can_be_put_under_another_state(client, lesson, state):
    client.post(f"/lessons/{lesson}/state", data={"state": state, "reason": ""})

    assert f"lesson {lesson} · {state}" in client.get(f"/lessons/{lesson}").text


def test_a_lesson_can_be_written_as_a_proposal(app, client, lesson):
    sent = {"words": "Score the edge first", "state": "proposed"}
    client.post("/findings/1/lesson", data=sent)
    build = client.post("/builds/new", data={"part": "1"}).location

    assert "Score the edge first" not in client.get(build).text
    assert "lesson 2 · proposed" in client.get("/lessons/2").text
