"""The page of a finding: why, fix, outcome and lesson, each saved from its own form."""

import re

import pytest
from flask import Flask
from flask.testing import FlaskClient

from defectlog.bench.findings import add_mark
from defectlog.guide import library
from defectlog.records import Finding, Shape
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


@pytest.fixture
def finding(app: Flask) -> int:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        build = make_build(session, make_part(session), peel_fold_back_deg=30.0)
        photo = make_photo(session, build, px_per_mm=10)
        return make_finding(session, photo, kind="peel-tear").id


def kept(app: Flask, number: int) -> Finding:
    with app.extensions["defectlog"][0].read() as session:
        row = session.get(Finding, number)
        assert row
        # Touch what the tests look at while the session is open.
        _ = row.verdicts, row.checks, row.fixes, row.lessons, row.build
        return row


def test_the_page_says_size_cause_reasons_and_cautions(client: FlaskClient, finding: int) -> None:
    page = client.get(f"/findings/{finding}").text
    kind = library.kind("peel-tear")
    assert kind.title in page
    assert "10.0" in page and "mm" in page
    assert "Next best check" in page
    assert "expert judgement" in page
    for caution in kind.fixes[0].cautions:
        assert caution.say.split(".")[0] in page
    # Cautions come before the step they belong to.
    first = kind.fixes[0].steps[0]
    assert page.index(first.cautions[0].title) < page.index(first.do) if first.cautions else True


def test_a_step_whose_caution_was_told_before_still_names_it(
    client: FlaskClient, finding: int
) -> None:
    page = client.get(f"/findings/{finding}").text
    fix = library.kind("peel-tear").fixes[0]

    told: set[str] = set()
    before = page.index(fix.title)
    for step in fix.steps:
        here = page.index(step.do, before)
        for caution in step.cautions:
            words = f"Mind: {caution.title.lower()}" if caution.key in told else caution.title
            assert words in page[before:here]
            told.add(caution.key)
        before = here


def test_a_place_marked_with_a_spot_boasts_no_size(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        repaired = make_photo(session, session.get(Finding, finding).build)
        add_mark(session, repaired.id, Shape.POINT, [(60, 10)], finding_number=finding, at=NOON)
    page = client.get(f"/findings/{finding}").text

    assert page.count("marked with a spot") == 1
    assert "no size" not in page
    assert page.count('<b class="fig">10.0') == 1


def test_a_cause_is_confirmed_and_taken_back(app: Flask, client: FlaskClient, finding: int) -> None:
    cause = library.kind("peel-tear").causes[0].key
    said = {"cause": cause, "said": "confirmed", "seen": "fibres on the cloth", "once": "a"}
    answer = client.post(f"/findings/{finding}/cause", data=said)
    assert answer.status_code == 303
    assert kept(app, finding).confirmed_cause == cause
    page = client.get(f"/findings/{finding}").text
    assert "fibres on the cloth" in page
    title = library.kind("peel-tear").causes[0].title
    assert f"Confirmed: {title}." in page

    client.post(f"/findings/{finding}/cause", data={"cause": cause, "said": "withdrawn"})
    assert f"Confirmed: {title}." not in client.get(f"/findings/{finding}").text
    assert kept(app, finding).confirmed_cause is None


def test_what_a_check_showed_moves_the_ranking_and_the_next_check_follows(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    def next_check(page: str) -> str:
        return re.search(r'name="check" value="([^"]+)"', page)[1]

    first = next_check(client.get(f"/findings/{finding}").text)
    said = {"check": first, "said": "no", "seen": "smooth all over", "once": "c1"}
    answers = [client.post(f"/findings/{finding}/check", data=said) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    page = client.get(f"/findings/{finding}").text
    assert "It did not show that" in page and "smooth all over" in page
    assert next_check(page) != first
    assert [row.check_key for row in kept(app, finding).checks] == [first]

    client.post(f"/findings/{finding}/check", data={"check": first, "said": "withdrawn"})
    assert kept(app, finding).checks == []
    assert next_check(client.get(f"/findings/{finding}").text) == first


def test_a_check_answered_otherwise_is_refused_in_a_sentence(
    client: FlaskClient, finding: int
) -> None:
    check = library.kind("peel-tear").causes[0].checks[0].key
    at = f"/findings/{finding}/check"
    assert client.post(at, data={"check": check, "said": "maybe"}).status_code == 400
    assert client.post(at, data={"check": "moon", "said": "yes"}).status_code == 404
    long = client.post(at, data={"check": check, "said": "yes", "seen": "x" * 301})
    assert long.status_code == 400 and "over 300 characters" in long.text


def test_a_fix_is_looked_at_again(app: Flask, client: FlaskClient, finding: int) -> None:
    fix_key = library.kind("peel-tear").fixes[0].key
    done = {"words": "Trimmed the loose fibres", "fix_key": fix_key}
    client.post(f"/findings/{finding}/fix", data=done)
    (fix,) = kept(app, finding).fixes
    page = client.get(f"/findings/{finding}").text
    assert "did it hold?" in page and "As in the guide" in page

    at = f"/findings/{finding}/fix/{fix.id}"
    assert client.post(at, data={"said": "held"}).status_code == 303
    assert kept(app, finding).fixes[0].result.value == "held"
    assert "It held</b>, looked at again" in client.get(f"/findings/{finding}").text
    client.post(at, data={"said": "not yet"})
    assert kept(app, finding).fixes[0].result is None
    assert client.post(at, data={"said": "perhaps"}).status_code == 400
    assert client.post(f"{at}9", data={"said": "held"}).status_code == 404


def test_a_fix_with_a_decimal_comma_is_kept(app: Flask, client: FlaskClient, finding: int) -> None:
    done = {"words": "Trimmed the loose fibres", "minutes": "12,5"}
    assert client.post(f"/findings/{finding}/fix", data=done).status_code == 303
    (fix,) = kept(app, finding).fixes
    assert (fix.words, fix.minutes) == ("Trimmed the loose fibres", 12.5)


@pytest.mark.parametrize(
    ("form", "typed", "words"),
    [
        ("fix", {"words": "", "minutes": "5"}, "what was done"),
        ("fix", {"words": "Sanded it back", "minutes": "soon"}, "not a number"),
        ("fix", {"words": "Sanded it back", "minutes": "-5"}, "out of range"),
        ("outcome", {}, "No outcome is chosen"),
        ("outcome", {"outcome": "paint it"}, "No outcome is chosen"),
        (
            "outcome",
            {"outcome": "use as is under concession", "reason": ""},
            "concession needs a reason",
        ),
        ("lesson", {"words": ""}, "one thing to change"),
    ],
)
def test_a_form_that_cannot_be_is_refused_and_keeps_what_was_typed(
    app: Flask, client: FlaskClient, finding: int, form: str, typed: dict[str, str], words: str
) -> None:
    answer = client.post(f"/findings/{finding}/{form}", data=typed)
    assert answer.status_code == 400
    assert words in answer.text
    if typed.get("words"):
        assert typed["words"] in answer.text
    row = kept(app, finding)
    assert row.is_open and not row.fixes and not row.lessons


def test_an_outcome_closes_and_can_be_opened_again(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    client.post(f"/findings/{finding}/outcome", data={"outcome": "repair"})
    assert kept(app, finding).outcome.value == "repair"
    client.post(f"/findings/{finding}/outcome", data={"outcome": "open"})
    assert kept(app, finding).is_open


def test_a_finding_closed_in_another_tab_is_not_decided_again_unseen(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    at = f"/findings/{finding}/outcome"
    first = client.post(at, data={"outcome": "repair", "reason": "patched", "once": "a"})
    assert "Finding 1: repair." in client.get(first.location).text

    answer = client.post(at, data={"outcome": "scrap", "reason": "cracked <right> through"})

    assert answer.status_code == 409
    assert "was closed already" in answer.text and "repair (patched)" in answer.text
    # What was chosen here is not lost, and the way to it is offered.
    assert "scrap, “cracked &lt;right&gt; through”" in answer.text
    assert "Open it again" in answer.text
    assert kept(app, finding).outcome.value == "repair"


def test_what_was_decided_anew_is_not_opened_from_an_old_page(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    at = f"/findings/{finding}/outcome"

    def seen() -> str:
        return re.search(r'name="seen" value="(\d+)"', client.get(f"/findings/{finding}").text)[1]

    client.post(at, data={"outcome": "repair"})
    old = seen()
    client.post(at, data={"outcome": "open", "seen": old})
    client.post(at, data={"outcome": "scrap", "reason": "cracked"})

    answer = client.post(at, data={"outcome": "open", "seen": old})

    assert answer.status_code == 409
    assert "was decided anew meanwhile: scrap (cracked)" in answer.text
    assert "Not opened." in answer.text
    assert kept(app, finding).outcome.value == "scrap"
    assert client.post(at, data={"outcome": "open", "seen": seen()}).status_code == 303
    assert kept(app, finding).is_open


def test_a_lesson_stands_on_the_next_build_and_on_the_board(
    app: Flask, client: FlaskClient, finding: int
) -> None:
    words = {"words": "Fold the peel ply right back"}
    assert client.post(f"/findings/{finding}/lesson", data=words).status_code == 303
    part = kept(app, finding).build.part_id
    build = client.post("/builds/new", data={"part": str(part)}).location
    assert "Fold the peel ply right back" in client.get(build).text

    board = client.get("/lessons/").text
    assert "Fold the peel ply right back" in board and "Not applied yet" in board
    refused = client.post("/lessons/1/state", data={"state": "dropped", "reason": ""})
    assert refused.status_code == 400 and "for a reason" in refused.text
    answered = client.post("/lessons/1/state", data={"state": "perhaps"})
    assert answered.status_code == 400 and "No answer is chosen" in answered.text
    client.post("/lessons/1/state", data={"state": "kept", "reason": "no tear on six builds"})
    assert "no tear on six builds" in client.get("/lessons/1").text


def test_findings_are_listed_by_kind_and_state(client: FlaskClient, finding: int) -> None:
    assert f"/findings/{finding}" in client.get("/findings/?kind=peel-tear&open=yes").text
    assert f"/findings/{finding}" not in client.get("/findings/?kind=dry-spot").text


def test_a_photo_of_the_finding_shows_where_it_is(client: FlaskClient, finding: int) -> None:
    page = client.get(f"/findings/{finding}").text

    drawn = re.search(r'<svg class="marked__over".*?</svg>', page, re.DOTALL)[0]
    # The mark as it was drawn: a line from (10, 10) to (110, 10).
    assert re.search(r'<polyline points="10(.0)?,10(.0)? 110(.0)?,10(.0)? ', drawn)
