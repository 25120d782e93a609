"""The key on screen, by its links alone."""

import re
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest

from defectlog.bench.findings import add_mark
from defectlog.guide import kinds, library
from defectlog.records import Shape
from tests.builders import NOON, make_build, make_part, make_photo
from tests.measured import add_measurement

DATA = library.key_data()


def page(client, address):
    answer = client.get(address, follow_redirects=True)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def heading(text):
    return unescape(re.search(r"<h1>(.*?)</h1>", text).group(1))


def answer_links(text):
    """Where each answer leads, by the words on it."""
    found = re.findall(r'<a class="answer[^"]*" href="([^"]*)">.*?<span>(.*?)</span>', text, re.S)
    return {unescape(words): unescape(address) for address, words in found}


def test_the_first_page_asks_one_question_and_shows_every_kind(client):
    text = page(client, "/guide/which")

    assert heading(text) in {question.ask for question in DATA.questions}
    assert "Don’t know" in answer_links(text)
    for kind in kinds():
        assert f'href="/guide/{kind.key}"' in text
        assert kind.look.split(";")[0] in text


def test_answers_are_links_that_lead_to_the_kind(client):
    said = {"Sticky or greasy", "It washes off", "As hard as the good place"}
    text = page(client, "/guide/which")
    while links := answer_links(text):
        text = page(client, next(links[words] for words in links if words in said))

    assert "Sticky from blush" in heading(text)
    assert 'href="/guide/tacky-blush"' in text
    assert "Sure it is not" in text


def test_every_link_out_of_the_key_is_there(client):
    text = page(client, "/guide/which?feel=open&shape=spots")

    for address in set(re.findall(r'href="(/guide/[^"#]*)"', text)):
        page(client, unescape(address))


def test_dont_know_leads_to_another_question(client):
    text = page(client, "/guide/which")
    after = page(client, answer_links(text)["Don’t know"])

    assert heading(after) != heading(text)
    assert "<b>Don’t know</b>" in after


def test_an_answer_can_be_taken_back(client):
    text = page(client, "/guide/which?feel=open&shape=spots")
    back = re.search(r'href="([^"]*)" aria-label="Take back: What shape', text).group(1)

    assert unescape(back) == "/guide/which?feel=open"


def test_a_photo_answers_for_its_face_and_mark(client):
    answer = client.get("/guide/which?photo=bag+side&mark=line")
    assert answer.status_code == 302
    query = parse_qs(urlsplit(answer.location).query)
    assert query == {"face": ["bag"], "shape": ["line"], "known": ["face shape"]}

    text = page(client, answer.location)
    assert text.count("from the photo") == 2
    assert "6\xa0short questions" in text


def test_a_photo_that_says_nothing_starts_at_the_beginning(client):
    answer = client.get("/guide/which?photo=other")
    assert answer.location == "/guide/which"


def test_solvent_is_never_asked_for_without_its_caution(client):
    text = page(client, "/guide/which?feel=sticky&water=same&press=hard")

    assert heading(text) == DATA.question("solvent").ask
    assert text.index("The vapour burns") < text.index('class="answers"')


def test_whoever_knows_nothing_is_led_to_the_shelves(client):
    text = page(client, "/guide/which")
    while links := answer_links(text):
        text = page(client, links["Don’t know"])

    assert heading(text) == "Nothing to go by yet."
    assert "Look through the guide" in text
    assert answer_links(page(client, unescape(re.search(r'href="([^"]*on=1)"', text).group(1))))


def test_what_has_fallen_out_is_shown_with_the_reason(client):
    text = page(client, "/guide/which?face=bag&feel=sticky")

    assert "Fell out:" in text
    assert "Speaks against it: on the bag side; sticky or greasy." in text


@pytest.mark.parametrize(
    "query", ["face=moon", "moon=face", "face=%3Cscript%3E", "known=face", "on=1", "photo=moon"]
)
def test_an_address_that_says_nothing_known_is_answered(client, query):
    text = page(client, f"/guide/which?{query}")

    assert "Take back" not in text
    assert "<script>" not in text


@pytest.mark.parametrize("question", DATA.questions, ids=lambda one: one.key)
def test_every_answer_has_a_drawing_of_its_own(app, question):
    drawing = app.jinja_env.get_template(f"guide/answers/{question.key}.html")
    drawn = [drawing.render(answer=one.key).strip() for one in question.answers]

    assert all("<" in one and "style=" not in one and "fill=" not in one for one in drawn)
    assert len(set(drawn)) == len(drawn)


def test_the_key_is_reached_from_the_guide(client):
    assert re.search(r'class="button" href="/guide/which"', page(client, "/guide/"))


def test_the_key_is_reached_from_the_bench(client, app):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        make_part(session)

    assert 'href="/guide/which"' in page(client, "/")


def test_a_finding_leads_to_the_key_with_what_its_photo_and_voids_say(client, app):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        photo = make_photo(session, make_build(session))
        square = ((10, 10), (100, 10), (100, 100), (10, 100))
        mark = add_mark(session, photo.id, Shape.OUTLINE, square, kind="dry-spot", at=NOON)
        voids = [{"x": 20, "y": 20, "shape": "round"}]
        add_measurement(session, photo, 0.01, result={"voids": voids})
        number = mark.finding.id
    link = re.search(r'href="(/guide/which[^"]*)"', page(client, f"/findings/{number}")).group(1)

    text = page(client, unescape(link))
    # Round voids inside the outline go before the outline itself, which would say "a patch".
    assert "on the tool side" in text and text.count("from the photo") == 2
    assert "<b>Small spots, one or many</b>" in text
    assert heading(text) not in (DATA.question("face").ask, DATA.question("shape").ask)


def test_every_kind_left_is_held_against_the_first_with_what_separates_them(client):
    said = "feel=open&shape=spots&face=tool&place=anywhere&colour=pale&match=none"
    text = page(client, f"/guide/which?{said}")

    # White specks: bubbles are left beside pinholes, and powder tells them apart.
    assert heading(text).startswith("Not separated: pinholes on the tool side or air bubbles")
    assert 'id="not-air-bubbles"' in text
    assert "Quick test: powder rub." in text


def test_after_a_dent_the_page_says_why_no_solvent(client):
    text = page(client, "/guide/which?feel=sticky&water=same&press=dents&match=none&colour=same")

    assert "Solvent spot: not here, the nail leaves a dent." in text
    assert "Quick test: solvent" not in text
