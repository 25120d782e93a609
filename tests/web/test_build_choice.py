"""Builds are ticked in their list, over several pages, and seen together in the trends."""

import re
from urllib.parse import parse_qs, urlsplit

import pytest

from defectlog.web import build_choice
from tests.builders import make_part
from tests.measured import add_build


@pytest.fixture
def shop(app, monkeypatch):
    """Two parts with three builds each, two builds a page."""
    monkeypatch.setattr(build_choice, "PAGE", 2)
    with app.extensions["defectlog"][0].write() as session, session.begin():
        for name in ("Day-hatch lid", "Bow bulkhead"):
            part = make_part(session, name)
            for void in (0.02, 0.021, 0.022):
                add_build(session, part, void)


def boxes(page: str) -> dict[str, bool]:
    """The boxes of the list, by number, and whether they are ticked."""
    found = re.findall(r'<input type="checkbox" name="tick" value="(\d+)"( checked)?>', page)
    return {number: bool(checked) for number, checked in found}


def carried(page: str) -> list[str]:
    return re.findall(r'<input type="hidden" name="tick" value="(\d+)">', page)


def test_the_list_of_builds_leads_to_ticking(client, shop):
    assert 'href="/builds/choose/"' in client.get("/builds/").text
    assert 'href="/builds/choose/?of=2"' in client.get("/builds/?part=2").text


def test_ticks_come_along_from_page_to_page_and_back(client, shop):
    first = client.get("/builds/choose/").text
    second = client.get("/builds/choose/?of=&tick=6&from=2").text
    back = client.get("/builds/choose/?of=&tick=6&tick=3&from=0").text

    assert boxes(first) == {"6": False, "5": False} and 'name="from" value="2"' in first
    assert boxes(second) == {"4": False, "3": False} and carried(second) == ["6"]
    assert "Ticked and not in this list: build 6." in second
    assert boxes(back) == {"6": True, "5": False} and carried(back) == ["3"]


def test_a_part_pressed_keeps_the_ticks_of_the_others(client, shop):
    # The pressed button stands behind the field that says which part was listed.
    page = client.get("/builds/choose/?of=2&tick=6&of=1").text

    assert boxes(page) == {"3": False, "2": False} and carried(page) == ["6"]
    assert boxes(client.get("/builds/choose/?of=2&of=all").text) == {"6": False, "5": False}


def test_the_ticked_builds_are_shown_under_the_name_they_are_given(client, shop):
    answer = client.get("/builds/choose/show?of=2&tick=6&tick=1&tick=3&name=Summer")

    asked = parse_qs(urlsplit(answer.location).query)
    assert (asked["builds"], asked["name"]) == (["6, 1, 3"], ["Summer"])
    page = client.get(answer.location).text
    assert "<h1>Summer</h1>" in page and "Build 3" in page and "Build 2" not in page


def test_nothing_ticked_is_said_in_a_sentence(client, shop):
    page = client.get("/builds/choose/show?of=1", follow_redirects=True).text

    assert "No build is ticked" in page and set(boxes(page)) == {"3", "2"}


@pytest.mark.parametrize(
    "asked", ["of=x", "of=", "from=-3", "from=x", "from=999999", "tick=abc", "tick=-1", "tick="]
)
def test_odd_addresses_are_answered(client, shop, asked):
    assert client.get(f"/builds/choose/?{asked}").status_code == 200


def test_a_part_that_is_not_there_is_not_found(client, shop):
    assert client.get("/builds/choose/?of=99").status_code == 404


def test_a_number_that_is_none_is_refused_in_a_sentence(client, shop):
    answer = client.get("/builds/choose/show?tick=1&tick=x'", follow_redirects=True)

    assert answer.status_code == 400 and "is no number of a build" in answer.text


def keep(client, **more: str):
    return client.post("/builds/choose/keep", data={"builds": "6, 1, 3", "name": "Summer"} | more)


def test_ticked_builds_are_kept_as_a_set_one_tap_away_on_every_page_of_the_trends(client, shop):
    asked = client.get("/builds/choose/keep?of=2&tick=6&tick=1&tick=3").text
    assert "Keep 3\N{NO-BREAK SPACE}builds as a set" in asked and "Builds 1, 3, 6." in asked

    answer = keep(client)

    assert answer.status_code == 303
    page = client.get(answer.location).text
    assert "<h1>Summer</h1>" in page and "“Summer” is kept: 3\N{NO-BREAK SPACE}builds." in page
    for path in ("/trends/", "/trends/goes-with/", "/trends/compare/"):
        assert re.search(r'href="[^"]*builds=1,\+3,\+6&amp;name=Summer"', client.get(path).text)


def test_a_name_that_is_taken_gives_way_only_if_asked_to(client, shop):
    keep(client)

    again = keep(client, builds="2-4")
    assert again.status_code == 400
    assert "is kept already" in again.text and 'name="replace" value="yes"' in again.text
    assert keep(client, builds="2-4", replace="yes").status_code == 303
    assert "builds=2,+3,+4&amp;name=Summer" in client.get("/trends/").text


def test_a_form_sent_twice_keeps_one_set(client, shop):
    answers = [keep(client, once="t-1") for _ in range(2)]

    assert [answer.status_code for answer in answers] == [303, 303]
    assert client.get("/trends/").text.count("name=Summer") == 1


def test_a_set_is_no_longer_kept_once_somebody_says_so(client, shop):
    page = client.get(keep(client).location).text
    assert "No longer keep this set" in page and "Keep these builds as a set" not in page

    client.post("/builds/choose/sets/1/drop")

    assert "name=Summer" not in client.get("/trends/").text
    assert client.post("/builds/choose/sets/1/drop").status_code == 404
    assert "Keep these builds as a set" in client.get("/trends/?part=&builds=1,3").text


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"name": " "}, "has no name"),
        ({"name": "x" * 61}, "is longer than 60 characters"),
        ({"builds": "98, 99"}, "holds no build"),
    ],
)
def test_what_is_no_set_is_said_with_what_was_typed(client, shop, more, words):
    answer = keep(client, **more)

    assert answer.status_code == 400 and words in answer.text
    assert 'name="builds"' in answer.text


@pytest.mark.parametrize("builds", ["", "x", "9-2", "1-5000"])
def test_numbers_that_are_none_are_refused_in_a_sentence(client, shop, builds):
    assert keep(client, builds=builds).status_code in (400, 422)
    assert client.get(f"/builds/choose/keep?builds={builds}").status_code in (302, 400, 422)
