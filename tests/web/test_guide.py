"""The guide on screen: what a maker finds on it, in which order."""

import re

import pytest

from defectlog.guide import kind, kinds


def page(client, address):
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def place_of(text, words):
    assert words in text
    return text.index(words)


def test_every_kind_is_on_its_shelf_with_its_letters_and_its_look(client):
    text = page(client, "/guide/")

    for one in kinds():
        assert f'href="/guide/{one.key}"' in text
        assert f">{one.code}<" in text
        assert one.look.split(";")[0] in text
        assert one.family.title in text


def test_a_search_lists_what_answers_best_first(client):
    text = page(client, "/guide/?q=sticky+spray")

    assert re.search(r"\d found for “sticky spray”", text)
    assert 'href="/guide/tacky-adhesive"' in text
    assert 'href="/guide/bridging"' not in text
    assert 'value="sticky spray"' in text


def test_a_search_that_finds_nothing_says_what_to_do(client):
    text = page(client, "/guide/?q=moonlight")

    assert "Nothing found for “moonlight”" in text
    assert "Try one word less" in text


def test_words_typed_are_never_markup(client):
    text = page(client, "/guide/?q=%3Cscript%3Ealert(1)%3C/script%3E")

    assert "<script>alert" not in text
    assert "&lt;script&gt;" in text


def test_an_endless_query_is_cut_and_answered(client):
    page(client, "/guide/?q=" + "pit+" * 2000)


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_a_page_follows_the_order_of_the_work(client, one):
    text = page(client, f"/guide/{one.key}")

    order = [
        place_of(text, f"<h2>{heading}</h2>")
        for heading in ("Look", "Tell it apart", "Causes", "Fix", "Next build", "Sources")
    ]
    assert order == sorted(order)


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_a_page_shows_every_cause_with_its_checks(client, one):
    text = page(client, f"/guide/{one.key}")

    for cause in one.causes:
        assert f'id="cause-{cause.key}"' in text
        for check in cause.checks:
            assert check.time_words in text
    assert "expert judgement, unmeasured" in text


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_holds_and_cautions_stand_before_the_steps(client, one):
    text = page(client, f"/guide/{one.key}")

    for fix in one.fixes:
        block = text[text.index(f'id="fix-{fix.key}"') :]
        block = block[: block.index("</section>")]
        steps = block.index("<h4>Steps</h4>")
        assert block.index("<h4>Not when</h4>") < steps
        for caution in fix.cautions:
            assert block.index(f"<b>{caution.title}.</b>") < steps
        assert place_of(text, 'id="hold"') < text.index(f'id="fix-{fix.key}"')


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_every_link_on_a_page_leads_somewhere_on_it(client, one):
    text = page(client, f"/guide/{one.key}")

    ids = re.findall(r'id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', text):
        assert target in ids


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_a_page_draws_the_flaw_without_inline_style(client, one):
    text = page(client, f"/guide/{one.key}")

    assert '<svg class="section"' in text
    assert re.search(r'role="img" aria-label="(Section|Face|Edge)\b', text)
    assert " style=" not in text


def test_a_look_alike_in_the_guide_is_a_link_and_another_is_not(client):
    text = page(client, "/guide/pinholes-tool")

    assert 'href="/guide/dry-spot"' in text
    assert "Dust on the face</h3>" in text


def test_what_was_read_of_a_source_is_said(client):
    text = page(client, "/guide/peel-tear")

    assert "[read: abstract]" in text
    assert kind("peel-tear").claims[0].say in text


def test_a_kind_that_is_not_there_is_said_so(client):
    answer = client.get("/guide/moon-dust")

    assert answer.status_code == 404
    assert "moon-dust" in answer.get_data(as_text=True)
