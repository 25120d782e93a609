"""Every error is a sentence with its status, on the page and for a script; bugs leak nothing."""

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy.exc import OperationalError

JSON = {"Accept": "application/json"}


@pytest.mark.parametrize(
    "path", ["/nope", "/builds/99", "/findings/99", "/photos/99", "/lessons/99", "/guide/gremlin"]
)
def test_what_is_not_there_is_said_so(client: FlaskClient, path: str) -> None:
    page, script = client.get(path), client.get(path, headers=JSON)
    assert page.status_code == script.status_code == 404
    assert script.json["what"] in page.text
    assert script.json["do"]


def test_a_number_beyond_any_record_is_not_there_either(client: FlaskClient) -> None:
    assert client.get("/builds/99999999999999999999999").status_code == 404


def test_a_wrong_way_of_asking_is_said_so(client: FlaskClient) -> None:
    assert client.get("/findings/1/outcome").status_code == 405


def test_a_bug_shows_a_reference_and_nothing_else(app: Flask, client: FlaskClient) -> None:
    app.add_url_rule("/bug", view_func=lambda: {}["secret-key"])
    answer = client.get("/bug")
    assert answer.status_code == 500
    assert "reference" in answer.text
    assert "secret-key" not in answer.text and "Traceback" not in answer.text


def test_records_out_of_reach_are_said_so(app: Flask, client: FlaskClient) -> None:
    def locked():
        raise OperationalError("UPDATE part", {}, Exception("database is locked"))

    app.add_url_rule("/locked", view_func=locked)
    answer = client.get("/locked")
    assert answer.status_code == 503
    assert "ry again" in answer.text and "UPDATE" not in answer.text
