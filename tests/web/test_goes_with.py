import csv
import io
import re

import pytest

from tests.builders import make_part
from tests.measured import add_build


@pytest.fixture
def part_id(app):
    """Twelve builds made the old way, twelve the new one, 1.5 points lower."""
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session, "Locker door")
        for process, level in (("bagged-wet-layup", 0.020), ("infusion", 0.005)):
            for step in range(12):
                add_build(
                    session,
                    part,
                    level + 0.0001 * step,
                    process=process,
                    flow_media=process == "infusion",
                    humidity_pct=50.0 + (7 * step) % 12,
                )
        return part.id


def test_an_empty_workshop_is_told_where_to_begin(client):
    assert "Nothing to compare yet" in client.get("/trends/goes-with/").text


def test_the_list_has_its_sentence_its_warning_and_its_reasons(client, part_id):
    page = client.get("/trends/goes-with/").text

    assert "void fraction goes with 2 of 3" in page
    assert "Going together is not causing." in page
    assert "Cannot be told apart from 1\N{NO-BREAK SPACE}other fact" in page
    assert "Filled in on no build" in page
    assert 'aria-current="page">What goes with what' in page


def test_links_lead_to_the_comparison_and_to_the_plan_of_a_trial(client, part_id):
    page = client.get(f"/trends/goes-with/?part={part_id}").text
    links = [link.replace("&amp;", "&") for link in re.findall(r'href="([^"]+)"', page)]

    compare = next(link for link in links if "compare" in link and "a=infusion" in link)
    assert "Vacuum infusion or bagged wet lay-up" in client.get(compare).text
    plan = client.get(next(link for link in links if "fact=process" in link and "trials" in link))
    assert plan.status_code == 200
    assert "What does “process” do to void fraction?" in plan.text
    assert re.search(r'<option value="process" selected', plan.text)


def test_the_trends_lead_here_with_the_same_builds_and_result(client, part_id):
    page = client.get(f"/trends/?part={part_id}&result=effort").text

    assert f'href="/trends/goes-with/?part={part_id}&amp;result=effort"' in page


def test_the_numbers_can_be_had(client, part_id):
    answer = client.get("/trends/goes-with/facts.csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))

    assert answer.mimetype == "text/csv"
    assert [row["fact"] for row in rows] == ["Process", "Flow media", "Relative humidity"]


@pytest.mark.parametrize("result", ["voids", "mass", "effort", "findings", "rework", "largest"])
def test_every_result_has_its_page(client, part_id, result):
    page = client.get(f"/trends/goes-with/?result={result}")

    assert page.status_code == 200
    assert "nan" not in page.text.lower().replace("nanometre", "")


def test_what_cannot_be_read_is_said_and_nothing_typed_is_lost(client, part_id):
    answer = client.get("/trends/goes-with/?builds=3+to+x&mould=A")

    assert answer.status_code == 400
    assert "is no number of a build" in answer.text and 'value="3 to x"' in answer.text
    assert 'action="/trends/goes-with/"' in answer.text
    assert client.get("/trends/goes-with/?result=beauty").status_code == 404
    assert client.get("/trends/goes-with/?part=77").status_code == 404
