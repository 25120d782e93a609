"""The shop's own kinds, causes and notes, entered and met again on the screens."""

import re

import pytest
from flask.testing import FlaskClient

from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.guide import library
from defectlog.records import FixResult, HouseNote, OwnCause, OwnFix, OwnKind
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


def test_a_kind_with_answers_is_met_at_the_end_of_the_key(client: FlaskClient) -> None:
    form = client.get("/guide/own/new").text
    assert "Which face is it on?" in form and 'value="face:tool"' in form
    ticked = {**KELP, "answers": ["face:tool", "shape:pattern", "colour:foreign"]}
    at = client.post("/guide/own/new", data=ticked).headers["Location"]

    page = client.get("/guide/which?face=tool&shape=pattern&colour=foreign").text
    assert f'href="{at}"' in page
    assert "Speaks for it: on the tool side; a pattern that repeats; a foreign colour." in page
    edit = client.get(f"{at}/edit").text
    assert edit.count("checked") == 3 and 'value="shape:pattern" checked' in edit
    # What was ticked is not lost with a form that comes back.
    refused = client.post(f"{at}/edit", data={**ticked, "look": ""})
    assert refused.status_code == 400 and refused.text.count("checked") == 3
    client.post(f"{at}/edit", data=KELP)
    assert f'href="{at}"' not in client.get("/guide/which?face=tool&shape=pattern").text


WASH = {
    "title": "Wash and key",
    "outcome": "rework",
    "not_when": "A nail leaves a dent.",
    "step-1": "Wash it.",
    "step-3": "Sand it dull.",
    "cautions-3": "dust",
    "reinspect": "Water stands on it.",
    "time": "30 min",
}


def test_an_own_fix_stands_on_the_page_and_is_chosen_at_a_finding(
    client: FlaskClient, kept
) -> None:
    finding = kept(lambda s: make_finding(s, make_photo(s, make_build(s))).id)
    assert client.post("/guide/dry-spot/fixes/new", data=WASH).status_code == 303

    page = client.get("/guide/dry-spot").text
    assert "Wash and key" in page and "by this shop" in page
    fix = kept(lambda s: s.query(OwnFix).one().key)
    assert f'<option value="{fix}">Wash and key</option>' in client.get(f"/findings/{finding}").text
    done = {"words": "Washed", "fix_key": fix}
    assert client.post(f"/findings/{finding}/fix", data=done).status_code == 303
    at = f"/guide/dry-spot/fixes/{fix}"
    assert "Sand it dull." in client.get(f"{at}/edit").text
    client.post(f"{at}/delete")
    assert "Deleted fixes (1)" in client.get("/guide/dry-spot").text
    client.post(f"{at}/restore")
    assert f'id="fix-{fix}"' in client.get("/guide/dry-spot").text


def test_a_hazard_without_its_caution_is_refused_beside_its_step(client: FlaskClient, kept) -> None:
    answer = client.post(
        "/guide/dry-spot/fixes/new", data={**WASH, "step-3": "Wipe with acetone.", "cautions-3": ""}
    )
    assert answer.status_code == 400
    # The gap between the steps has closed, so that it is the second one now.
    assert "“acetone” in step 2 can hurt somebody" in answer.text
    assert 'href="#f-step-2"' in answer.text and "Wipe with acetone." in answer.text
    assert kept(lambda s: s.query(OwnFix).count()) == 0


def test_room_for_another_step_loses_nothing_and_saves_nothing(client: FlaskClient, kept) -> None:
    answer = client.post("/guide/dry-spot/fixes/new", data={**WASH, "more": "1"})
    assert answer.status_code == 200
    for words in ("Wash it.", "Sand it dull.", "A nail leaves a dent.", 'name="step-4"'):
        assert words in answer.text
    assert kept(lambda s: s.query(OwnFix).count()) == 0


def opened_on(page: str) -> str:
    return re.search(r'name="opened_on" value="([0-9a-f]+)"', page)[1]


@pytest.mark.parametrize(
    ("make", "changed", "mine"),
    [
        (("/guide/own/new", KELP), {**KELP, "look": "Brown."}, {**KELP, "look": "Red."}),
        (
            ("/guide/dry-spot/causes/new", DUST),
            {**DUST, "why": "It floats."},
            {**DUST, "why": "It creeps."},
        ),
        (
            ("/guide/dry-spot/fixes/new", WASH),
            {**WASH, "step-1": "Rinse it."},
            {**WASH, "step-1": "Steam it."},
        ),
        (("/guide/dry-spot/notes", {"words": "One."}), {"words": "Two."}, {"words": "Three."}),
    ],
)
def test_two_tabs_on_the_same_words_overwrite_nothing_unseen(
    client: FlaskClient, kept, make, changed, mine
) -> None:
    client.post(make[0], data=make[1])
    page = client.get("/guide/dry-spot").text + client.get("/guide/").text
    at = re.search(
        r'href="(/guide/dry-spot/(?:notes|causes|fixes)/[^"]*/edit|/guide/own-kelp[^"]*)"', page
    )[1]
    at = at if at.endswith("/edit") else f"{at}/edit"
    first, second = opened_on(client.get(at).text), opened_on(client.get(at).text)
    assert client.post(at, data={**changed, "opened_on": first}).status_code == 303

    refused = client.post(at, data={**mine, "opened_on": second})
    assert refused.status_code == 409
    assert "changed on another screen meanwhile" in refused.text
    theirs = next(value for key, value in changed.items() if mine[key] != value)
    my_words = next(value for key, value in mine.items() if changed[key] != value)
    # Both are on the page: theirs as it stands, mine as it was typed.
    assert theirs in refused.text and my_words in refused.text
    saved = client.post(at, data={**mine, "opened_on": opened_on(refused.text)})
    assert saved.status_code == 303
    assert my_words in client.get(at).text and theirs not in client.get(at).text


def test_a_word_of_a_house_note_finds_its_kind_misspelt_or_not(client: FlaskClient) -> None:
    client.post("/guide/dry-spot/notes", data={"words": "Under the <crayfish> insert."})
    for typed in ("crayfish", "crayfsh"):
        page = client.get(f"/guide/?q={typed}").text
        assert "1 found for" in page and 'href="/guide/dry-spot"' in page
        assert "<b>House note:</b> Under the &lt;crayfish&gt; insert." in page
    client.post("/guide/dry-spot/notes/1/delete")
    assert "Nothing found" in client.get("/guide/?q=crayfish").text


def test_own_kinds_causes_and_fixes_are_found_by_their_words(client: FlaskClient) -> None:
    client.post("/guide/own/new", data=KELP)
    client.post("/guide/dry-spot/causes/new", data={"title": "Sawdust storm"})
    client.post("/guide/warp/fixes/new", data={**WASH, "title": "Unbend in the oven"})
    for typed, found in (("klep", "Kelp print"), ("sawdst", "Dry spot"), ("unbend", "warp")):
        page = client.get(f"/guide/?q={typed}").text
        assert found in page and "1 found for" in page


def test_fixes_that_held_when_looked_at_again_stand_in_the_guide_and_at_the_finding(
    client: FlaskClient, kept
) -> None:
    fix = library.kind("dry-spot").fixes[0].key

    def five(session) -> int:
        build = make_build(session)
        for number in range(6):
            finding = open_finding(session, build.id, "dry-spot", NOON)
            done = record_fix(session, finding.id, "Done", minutes=None, at=NOON, fix_key=fix)
            # The sixth has not been looked at again, and counts for nothing yet.
            if number < 5:
                result = FixResult.HELD if number else FixResult.FAILED
                look_again(session, finding.id, done.id, result, at=NOON)
        return finding.id

    finding = kept(five)
    for address in ("/guide/dry-spot", f"/findings/{finding}"):
        page = " ".join(client.get(address).text.replace("\xa0", " ").split())
        assert "<b>It held</b> here: 4 of 5 times (95 % interval 38 to 96 %)" in page
    told = client.get("/workshop/sharing/knowledge.json").get_json()
    assert told["fixes_held"] == [{"kind": "dry-spot", "fix": fix, "held": 4, "of": 5}]
