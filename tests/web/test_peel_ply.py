"""The peel-ply page: numbers without script, cautions before steps, ways to it."""

import re

import pytest

from defectlog.guide.removal import removal


def page(client, address="/guide/peel-ply"):
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def shown(text, name):
    return re.search(rf"<b data-{name}>([^<]*)</b>", text)[1].replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("query", "pull", "lift"),
    [
        # R b / (1 - cos a) and that times sin a, with R b = 300 J/m² * 0.1 m = 30 N.
        ("", "15 N", "0 N"),
        ("?angle=90", "30 N", "30 N"),
        ("?angle=60", "60 N", "52 N"),
        ("?angle=90&width=50", "15 N", "15 N"),
        ("?angle=90&energy=600", "60 N", "60 N"),
    ],
)
def test_the_numbers_stand_on_the_page_without_script(client, query, pull, lift):
    text = page(client, f"/guide/peel-ply{query}")

    assert (shown(text, "pull"), shown(text, "lift")) == (pull, lift)


def test_the_range_of_the_peel_energy_is_carried_to_the_pull(client):
    text = page(client, "/guide/peel-ply?angle=180&width=100")

    # 100 and 600 J/m² on 0.1 m, halved at 180°: 5 and 30 N.
    assert "<span data-pull-between>5 to 30\N{NO-BREAK SPACE}N</span>" in text
    assert "order of magnitude" in text


@pytest.mark.parametrize(
    "query", ["?angle=0", "?angle=-4", "?angle=abc", "?angle=nan", "?width=1e9"]
)
def test_a_query_that_cannot_be_still_gives_the_page(client, query):
    text = page(client, f"/guide/peel-ply{query}")

    assert shown(text, "pull").endswith(" N")


def test_angles_are_links_for_whoever_has_no_script(client):
    text = page(client)

    for angle in (180, 150, 120, 90, 60, 30):
        assert f'href="/guide/peel-ply?angle={angle}&amp;width=100&amp;energy=300#figure"' in text


@pytest.mark.parametrize("name", ["before", "pull", "then"])
def test_cautions_stand_before_the_steps_they_are_for(client, name):
    text = page(client)
    run = getattr(removal(), name)

    begins = text.index(f"<h3>{run.title}</h3>")
    first = text.index("<ol", begins)
    for caution in run.cautions:
        assert begins < text.index(f"<b>{caution.title}.</b>", begins) < first


def test_every_sign_to_stop_stands_before_what_to_do_then(client):
    text = page(client)

    assert all(text.index(sign) < text.index(removal().then.title) for sign in removal().stop_signs)


def test_what_was_read_of_a_source_is_said(client):
    text = page(client)

    for source in removal().sources:
        if source.standing == "published":
            assert source.read in text


@pytest.mark.parametrize("address", ["/guide/", "/guide/peel-tear", "/guide/peel-embedded"])
def test_the_page_is_linked_from_where_it_is_needed(client, address):
    assert 'href="/guide/peel-ply"' in page(client, address)


def test_how_a_misspelt_search_was_read_is_said(client):
    text = page(client, "/guide/?q=stikcy")

    assert "“stikcy” read as sticky." in text
    assert 'href="/guide/tacky-adhesive"' in text
