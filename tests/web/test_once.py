"""A form is saved once: double tap, reload, back button after save; and never without its token."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from defectlog.web import create_app
from tests.at_once import at_once


def part_form(**more: str) -> dict[str, str]:
    return {"name": "Locker door", "target_mass_g": "1200", **more}


def count_parts(app) -> int:
    from defectlog.records import Part

    with app.extensions["defectlog"][0].read() as session:
        return session.query(Part).count()


def test_the_same_form_sent_twice_adds_one_part_and_leads_to_the_same_page(
    app, client: FlaskClient
) -> None:
    answers = [client.post("/workshop/parts/new", data=part_form(once="t1")) for _ in range(2)]

    assert [answer.status_code for answer in answers] == [303, 303]
    assert answers[0].location == answers[1].location
    assert count_parts(app) == 1
    assert "saved already" in client.get(answers[1].location).text


def test_a_refused_form_can_be_gone_back_to_and_what_was_saved_is_in_no_cache(
    client: FlaskClient,
) -> None:
    refused = client.post("/workshop/parts/new", data=part_form(name="", once="t1"))
    saved = client.post("/workshop/parts/new", data=part_form(once="t1"))

    # A page that may not be stored is not there to go back to; one to be asked for anew is
    # (RFC 9111, 4 and 5.2.2.4).
    assert (refused.status_code, refused.headers["Cache-Control"]) == (400, "private, no-cache")
    assert client.get(saved.location).headers["Cache-Control"] == "no-store"


def test_two_taps_at_once_add_one_part(app) -> None:
    def tap(_n: int) -> tuple[int, str | None]:
        answer = app.test_client().post("/workshop/parts/new", data=part_form(once="t2"))
        return answer.status_code, answer.location

    answers = at_once(4, tap)

    assert len(answers) == 4
    assert len(set(answers)) == 1 and answers[0][0] == 303
    assert count_parts(app) == 1


def test_a_form_without_its_token_is_refused_in_a_sentence(tmp_path: Path) -> None:
    app = create_app(tmp_path / "workshop")
    client = app.test_client()
    answer = client.post("/workshop/parts/new", data=part_form())

    assert answer.status_code == 400
    assert "load it again" in answer.text
    assert count_parts(app) == 0


def test_the_token_of_the_page_lets_the_form_through(tmp_path: Path) -> None:
    app = create_app(tmp_path / "workshop")
    client = app.test_client()
    page = client.get("/workshop/parts/new").text
    token = re.search(r'name="csrf_token" value="([^"]+)"', page)
    assert token
    answer = client.post("/workshop/parts/new", data=part_form(csrf_token=token[1]))

    assert answer.status_code == 303
    assert count_parts(app) == 1


@pytest.mark.parametrize("path", ["/", "/builds/", "/workshop/", "/nope", "/static/css/tokens.css"])
def test_every_answer_carries_the_security_headers(client: FlaskClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_another_host_name_is_refused(client: FlaskClient) -> None:
    assert client.get("/", headers={"Host": "evil.example"}).status_code == 400
