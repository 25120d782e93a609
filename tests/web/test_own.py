"""The shop's own kinds, causes and notes, entered and met again on the screens."""

import re

import pytest
from flask import Flask
from flask.testing import FlaskClient

from defectlog.bench.findings import judge_cause, open_finding
from defectlog.guide import library
from defectlog.records import HouseNote, OwnCause, OwnKind
from tests.builders import NOON, make_build, make_finding, make_photo

KELP = {
    "title": "Kelp print",
    "code": "kp",
    "look": "Green <branches>.",
    "definition": "Weed on the mould shows through.",
}
DUST = {
    "title": "Dust from the saw",
    "why": "It settles on the tack.",
    "check_do": "Wipe it with a dark cloth.",
    "check_positive": "the cloth is grey",
    "check_minutes": "2,5",
    "prevention": "Close the saw room.",
}


@pytest.fixture
def kept(app: Flask):
    """A transaction on the records of the running app."""
    records = app.extensions["defectlog"][0]

    def change(work):
        with records.write() as session, session.begin():
            return work(session)

    return change


@pytest.fixture
def kelp(client: FlaskClient) -> str:
    """The address of the page of an own kind."""
    return client.post("/guide/own/new", data=KELP).location


def test_an_own_kind_is_on_the_shelves_and_has_a_page(client: FlaskClient, kelp: str) -> None:
    page = client.get(kelp).text
    assert "Kelp print" in page and ">KP<" in page
    assert "Green &lt;branches&gt;." in page
    assert "written down by this shop" in page
    assert "No cause is written down for this kind yet" in page
    shelves = client.get("/guide/").text
    assert "The shop&#39;s own" in shelves and f'href="{kelp}"' in shelves


def test_an_own_kind_can_be_chosen_wherever_kinds_are(client: FlaskClient, kept, kelp: str) -> None:
    key = kelp.rsplit("/", 1)[-1]

    def mark(session) -> tuple[int, int, int]:
        photo = make_photo(session, make_build(session))
        return photo.id, photo.build.part_id, make_finding(session, photo, kind=key).id

    photo, part, finding = kept(mark)

    assert f'<option value="{key}">' in client.get(f"/workshop/parts/{part}").text
    limit = {"kind": key, "largest_mm": "5"}
    answer = client.post(f"/workshop/parts/{part}/limits", data=limit)
    assert answer.status_code == 303
    assert "The limit for kelp print is set" in client.get(answer.location).text
    state = client.get(f"/photos/{photo}/state").json
    assert key in [kind["key"] for kind in state["kinds"]]
    assert "Kelp print" in client.get("/findings/").text
    page = client.get(f"/findings/{finding}").text
    assert "No cause is written down for this kind" in page
    assert "Write the first cause down" in page
    assert "Kelp print" in client.get(f"/trends/{part}").text


def test_a_kind_form_with_faults_comes_back_as_typed_and_saves_nothing(
    client: FlaskClient, kept
) -> None:
    taken = library.kind("dry-spot").code
    answer = client.post("/guide/own/new", data={**KELP, "code": taken, "definition": ""})

    assert answer.status_code == 400
    assert f"{taken} stands for" in answer.text and "The definition is missing" in answer.text
    assert "Green &lt;branches&gt;." in answer.text
    assert kept(lambda s: s.query(OwnKind).count()) == 0


def test_the_same_form_twice_makes_one_kind(client: FlaskClient, kept) -> None:
    for _ in range(2):
        assert client.post("/guide/own/new", data={**KELP, "once": "k"}).status_code == 303
    assert kept(lambda s: s.query(OwnKind).count()) == 1


def test_an_own_kind_is_changed_and_removed(client: FlaskClient, kelp: str) -> None:
    assert 'value="Kelp print"' in client.get(f"{kelp}/edit").text
    client.post(f"{kelp}/edit", data={**KELP, "title": "Weed print"})
    assert "Weed print" in client.get(kelp).text

    client.post(f"{kelp}/notes", data={"words": "Scrub the mould."})
    refused = client.post(f"{kelp}/remove")
    assert refused.status_code == 422 and "cannot be removed" in refused.text
    client.post(f"{kelp}/notes/1/delete")
    assert client.post(f"{kelp}/remove").status_code == 303
    assert client.get(kelp).status_code == 404


def test_a_kind_of_the_guide_is_not_edited(client: FlaskClient) -> None:
    assert client.get("/guide/dry-spot/edit").status_code == 404
    assert client.post("/guide/dry-spot/remove").status_code == 404
    assert client.get("/guide/gremlin/causes/new").status_code == 404
    assert client.post("/guide/gremlin/causes/new", data=DUST).status_code == 404
    assert client.post("/guide/gremlin/notes", data={"words": "Boo."}).status_code == 404


def test_an_own_cause_stands_in_the_guide_and_in_the_ranking(client: FlaskClient, kept) -> None:
    answer = client.post("/guide/dry-spot/causes/new", data=DUST)
    assert answer.status_code == 303
    page = client.get("/guide/dry-spot").text
    assert "Dust from the saw" in page and "by this shop" in page
    assert "Check, 2.5\xa0min:</b> Wipe it with a dark cloth." in page
    assert "Close the saw room." in page
    finding = kept(lambda s: make_finding(s, make_photo(s, make_build(s))).id)
    asked = client.get(f"/findings/{finding}").text
    assert "Dust from the saw" in asked and "by this shop" in asked
    cause = kept(lambda s: s.query(OwnCause).one().key)
    said = {"cause": cause, "said": "confirmed", "seen": "grey"}
    assert client.post(f"/findings/{finding}/cause", data=said).status_code == 303
    assert "Confirmed: Dust from the saw" in client.get(f"/findings/{finding}").text


def test_an_own_cause_is_changed_deleted_and_brought_back(client: FlaskClient) -> None:
    client.post("/guide/dry-spot/causes/new", data=DUST)
    page = client.get("/guide/dry-spot").text
    at = re.search(r'href="(/guide/dry-spot/causes/own-[^/]+)/edit"', page)[1]
    assert 'value="2.5"' in client.get(f"{at}/edit").text

    refused = client.post(f"{at}/edit", data={**DUST, "check_minutes": "soon"})
    assert refused.status_code == 400 and "“soon” is not a number" in refused.text
    assert "Wipe it with a dark cloth." in refused.text
    client.post(f"{at}/edit", data={**DUST, "title": "Sawdust"})
    assert "Sawdust" in client.get("/guide/dry-spot").text
    client.post(f"{at}/delete")
    gone = client.get("/guide/dry-spot").text
    assert "Deleted causes (1)" in gone and "Close the saw room." not in gone
    client.post(f"{at}/restore")
    assert "Close the saw room." in client.get("/guide/dry-spot").text


def test_a_house_note_is_on_the_guide_page_and_on_the_finding(client: FlaskClient, kept) -> None:
    finding = kept(lambda s: make_finding(s, make_photo(s, make_build(s))).id)
    note = {"words": "Vent at the <low> corner.", "once": "n"}
    for _ in range(2):
        assert client.post("/guide/dry-spot/notes", data=note).status_code == 303
    assert kept(lambda s: s.query(HouseNote).count()) == 1

    for address in ("/guide/dry-spot", f"/findings/{finding}"):
        assert "Vent at the &lt;low&gt; corner." in client.get(address).text
    client.post("/guide/dry-spot/notes/1/edit", data={"words": "Vent high."})
    assert "Vent high." in client.get(f"/findings/{finding}").text
    client.post("/guide/dry-spot/notes/1/delete")
    assert "Vent high." not in client.get(f"/findings/{finding}").text
    assert "Deleted notes (1)" in client.get("/guide/dry-spot").text
    client.post("/guide/dry-spot/notes/1/restore")
    assert "Vent high." in client.get(f"/findings/{finding}").text


@pytest.mark.parametrize(
    ("words", "told"), [(" ", "The note is missing"), ("x" * 2001, "longer than 2000")]
)
def test_a_note_that_cannot_be_is_refused_on_its_page(
    client: FlaskClient, kept, words: str, told: str
) -> None:
    answer = client.post("/guide/dry-spot/notes", data={"words": words})
    assert answer.status_code == 400 and told in answer.text
    assert words.strip() in answer.text
    assert kept(lambda s: s.query(HouseNote).count()) == 0


def test_counts_stand_in_the_guide_and_in_the_ranking(client: FlaskClient, kept) -> None:
    kind = library.kind("dry-spot")

    def five(session) -> int:
        build = make_build(session)
        for number in range(5):
            finding = open_finding(session, build.id, "dry-spot", NOON)
            cause = kind.causes[int(number == 0)].key
            judge_cause(session, finding.id, cause, True, seen="", at=NOON)
        return finding.id

    finding = kept(five)
    for address in ("/guide/dry-spot", f"/findings/{finding}"):
        page = " ".join(client.get(address).text.replace("\xa0", " ").split())
        assert "<b>Confirmed</b> here: 4 of 5 times (95 % interval 38 to 96 %)" in page
