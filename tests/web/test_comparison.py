import csv
import io
import re
from xml.etree import ElementTree

import pytest

from tests.builders import make_part
from tests.measured import add_build

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def part_id(app):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session, "Locker door", target_mass_g=1000.0)
        for process, level, mass in (
            ("bagged-wet-layup", 0.020, 1100.0),
            ("infusion", 0.005, 980.0),
            ("wet-layup", 0.03, 1200.0),
        ):
            for step in range(4):
                add_build(
                    session,
                    part,
                    level + 0.0005 * step,
                    process=process,
                    mass_g=mass + step,
                    effort_min=100.0 + step,
                )
        return part.id


def ask(client, **args):
    return client.get("/trends/compare/", query_string=args)


def test_an_empty_workshop_is_told_where_to_begin(client):
    assert "Nothing to compare yet" in ask(client).text


def test_voids_mass_and_time_stand_side_by_side(client, part_id):
    page = ask(client, fact="process", a="infusion", b="bagged-wet-layup").text

    assert page.index("1.5\N{NO-BREAK SPACE}points lower") < page.index("<svg")
    assert "Mass against target was \N{MINUS SIGN}1.9" in page
    assert "No difference shown: working time was" in page
    assert "Builds were not dealt out by lot." in page
    assert 'value="wet-layup"' in page  # to be chosen instead


def test_every_dot_opens_its_build(client, part_id):
    page = ask(client, fact="process", a="infusion", b="bagged-wet-layup").text
    phone = ElementTree.fromstring(re.findall(r"<svg.*?</svg>", page, re.DOTALL)[0])
    links = phone.findall(f"{SVG}a")

    assert [link.get("href") for link in links] == [
        f"/builds/{n}" for n in (5, 6, 7, 8, 1, 2, 3, 4)
    ]
    assert links[0].get("aria-label").startswith("Build 5, vacuum infusion: 0.50")


def test_the_result_asked_for_comes_first(client, part_id):
    page = ask(client, fact="process", result="mass").text

    assert '<h2 id="figures">Mass against target, and what came with it</h2>' in page


def test_numbers_and_pictures_can_be_had(client, part_id):
    asked = {"fact": "process", "a": "infusion", "b": "bagged-wet-layup"}
    builds = client.get("/trends/compare/builds.csv", query_string=asked)
    figures = client.get("/trends/compare/figures.csv", query_string=asked)
    picture = client.get("/trends/compare/mass.svg", query_string=asked)

    assert len(list(csv.DictReader(io.StringIO(builds.text)))) == 3 * 8
    assert len(list(csv.DictReader(io.StringIO(figures.text)))) == 3
    assert picture.mimetype == "image/svg+xml" and "Mass against target was" in re.sub(
        r"<[^>]+>\s*", " ", picture.text
    ).replace("  ", " ")
    assert client.get("/trends/compare/rework.svg", query_string=asked).status_code == 404


def test_a_fact_nobody_filled_in_gets_a_sentence_and_other_facts_to_choose(client, part_id):
    page = ask(client, fact="kinked")

    assert page.status_code == 200
    assert "is filled in on none of these builds" in page.text
    assert "Compare by" in page.text


def test_what_cannot_be_asked_is_refused_with_what_to_do(client, part_id):
    for args, words in (
        ({"fact": "mass_g"}, "Choose one of the list"),
        ({"fact": "process", "a": "infusion", "b": "infusion"}, "Both settings are the same"),
        ({"builds": "0-"}, "is no number of a build"),
    ):
        answer = ask(client, **args)
        assert answer.status_code == 400
        assert words in answer.text
    assert ask(client, result="beauty").status_code == 404


def test_a_setting_that_is_typed_wrong_is_told(client, part_id):
    page = ask(client, fact="process", a="<b>", b="infusion")

    assert page.status_code == 200
    assert "was made with one of the two settings" in page.text and '<b>"' not in page.text
