"""The page two shops share through: a file out, a file in, every wrong one answered."""

import io
import json

import pytest
from flask import Flask
from flask.testing import FlaskClient

from defectlog.bench.knowledge_file import MOST_BYTES
from defectlog.bench.parts import rename_workshop
from defectlog.guide import library
from defectlog.records import Elsewhere, ElsewhereCount, HouseNote, OwnCause, OwnKind
from defectlog.web import create_app

PAGE = "/workshop/sharing/"
COUNT = {"kind": "dry-spot", "cause": "gelled", "confirmed": 7, "of": 9}


@pytest.fixture
def file(tmp_path) -> bytes:
    """The file of another workshop, written by its own screens."""
    app = create_app(tmp_path / "heron")
    app.config.update(TESTING=True, WTF_CSRF_ENABLED=False)
    with app.extensions["defectlog"][0].write() as session, session.begin():
        rename_workshop(session, "Heron Slip")
    client = app.test_client()
    kelp = {"title": "Kelp print", "code": "KP", "look": "Green.", "definition": "Weed."}
    client.post("/guide/own/new", data=kelp)
    client.post("/guide/dry-spot/causes/new", data={"title": "Dust from the saw"})
    client.post("/guide/dry-spot/notes", data={"words": "Vent <low>."})
    answer = client.get(f"{PAGE}knowledge.json")
    app.extensions["defectlog"][0].close()
    assert answer.status_code == 200
    assert 'filename="knowledge-heron-slip-20' in answer.headers["Content-Disposition"]
    return answer.data


def sent(data: bytes, **more: str) -> dict[str, object]:
    return {"file": (io.BytesIO(data), "heron.json"), **more}


def rows(app: Flask) -> list[int]:
    with app.extensions["defectlog"][0].read() as session:
        tables = (OwnKind, OwnCause, HouseNote, Elsewhere, ElsewhereCount)
        return [session.query(table).count() for table in tables]


def with_count(file: bytes) -> bytes:
    return json.dumps({**json.loads(file), "causes_confirmed": [COUNT]}).encode()


def test_the_file_of_another_shop_is_taken_in_and_met_on_every_page(
    app: Flask, client: FlaskClient, file: bytes
) -> None:
    for _ in range(2):
        answer = client.post(PAGE, data=sent(with_count(file), once="s1"))
        assert answer.status_code == 303
    page = client.get(PAGE).text.replace("\xa0", " ")
    assert "From Heron Slip: 1 kind, 1 cause, 1 note, 1 count" in page
    assert "Leave its counts out" in page
    assert rows(app) == [1, 1, 1, 1, 1]

    guide = client.get("/guide/dry-spot").text
    assert "Vent &lt;low&gt;." in guide and "from Heron Slip" in guide
    assert "Dust from the saw" in guide and "by Heron Slip" in guide
    assert "Kelp print" in client.get("/guide/").text


def test_taken_in_again_it_says_that_all_was_here(
    app: Flask, client: FlaskClient, file: bytes
) -> None:
    for _ in range(2):
        client.post(PAGE, data=sent(file))
    assert "was here already" in client.get(PAGE).text
    assert rows(app) == [1, 1, 1, 1, 0]


def test_counts_from_elsewhere_are_shown_apart(client: FlaskClient, file: bytes) -> None:
    cause = library.kind("dry-spot").causes[0].key
    data = json.loads(file)
    data["causes_confirmed"] = [{**COUNT, "cause": cause}]
    client.post(PAGE, data=sent(json.dumps(data).encode()))

    page = client.get("/guide/dry-spot").text.replace("\xa0", " ")
    assert "elsewhere: 7 of 9 times (95 % interval" in page and "at Heron Slip" in page
    assert client.post(f"{PAGE}shops/1/leave-out").status_code == 303
    assert "elsewhere: 7 of 9" not in client.get("/guide/dry-spot").text
    assert client.post(f"{PAGE}shops/1/leave-out").status_code == 404


@pytest.mark.parametrize(
    ("data", "status", "words"),
    [
        (b"", 422, "not readable as JSON"),
        (b"\x89PNG\r\n", 422, "not readable as JSON"),
        (b"{}", 422, "format: it is missing"),
        (b'{"format": "defectlog knowledge", "version": 3}', 422, "newer defectlog"),
        (b'{"format": "<b>recipes</b>", "version": 1}', 422, "no file of shared knowledge"),
        (b" " * (MOST_BYTES + 1), 413, "more than any shop writes down"),
    ],
)
def test_a_wrong_file_is_answered_on_the_page_and_nothing_is_kept(
    app: Flask, client: FlaskClient, data: bytes, status: int, words: str
) -> None:
    answer = client.post(PAGE, data=sent(data))

    assert answer.status_code == status
    assert words in answer.text and "<b>recipes" not in answer.text
    assert rows(app) == [0, 0, 0, 0, 0]


def test_a_file_wrong_in_its_last_row_leaves_nothing_behind(
    app: Flask, client: FlaskClient, file: bytes
) -> None:
    data = json.loads(file)
    data["causes_confirmed"] = [{**COUNT, "kind": "gremlin"}]
    answer = client.post(PAGE, data=sent(json.dumps(data).encode()))

    assert answer.status_code == 422 and "gremlin" in answer.text
    assert rows(app) == [0, 0, 0, 0, 0]


def test_without_a_file_the_page_says_so(client: FlaskClient) -> None:
    for data in ({}, {"file": "words"}, {"file": (io.BytesIO(b""), "")}):
        answer = client.post(PAGE, data=data, content_type="multipart/form-data")
        assert answer.status_code == 400 and "No file is chosen" in answer.text


def test_its_own_file_teaches_a_shop_nothing(app: Flask, client: FlaskClient) -> None:
    own = client.get(f"{PAGE}knowledge.json").data
    answer = client.post(PAGE, data=sent(own))

    assert answer.status_code == 422 and "saved by this very workshop" in answer.text
    assert rows(app) == [0, 0, 0, 0, 0]


def test_the_workshop_page_leads_there(client: FlaskClient) -> None:
    assert f'href="{PAGE}"' in client.get("/workshop/").text


def test_all_that_came_from_a_shop_goes_after_a_page_that_counts_it(
    app: Flask, client: FlaskClient, file: bytes
) -> None:
    client.post(PAGE, data=sent(with_count(file)))
    note = client.post("/guide/dry-spot/notes", data={"words": "Ours."})
    assert note.status_code == 303 and f"{PAGE}shops/1/remove" in client.get(PAGE).text

    asked = client.get(f"{PAGE}shops/1/remove").text.replace("\xa0", " ")
    assert "1 kind, 1 cause, 1 note and 1 count would go" in asked
    assert rows(app) == [1, 1, 2, 1, 1]
    assert client.post(f"{PAGE}shops/1/remove", data={"once": "r"}).status_code == 303
    assert rows(app) == [0, 0, 1, 0, 0]
    page = client.get(PAGE).text.replace("\xa0", " ")
    assert "Removed what came from Heron Slip: 1 kind, 1 cause, 1 note and 1 count." in page
    assert client.get(f"{PAGE}shops/1/remove").status_code == 404

    client.post(PAGE, data=sent(with_count(file)))
    assert rows(app) == [1, 1, 2, 1, 1]
