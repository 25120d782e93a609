"""What the tests share: an empty workshop on a real SQLite file, and a client to it."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy.orm import Session

from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address
from defectlog.web import create_app


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    """Empty records in an SQLite file, migrated."""
    kept = Records(sqlite_address(tmp_path / "records.sqlite"))
    migrate(kept.engine)
    yield kept
    kept.close()


@pytest.fixture
def session(records: Records) -> Iterator[Session]:
    """A session for changes, rolled back at the end."""
    with records.write() as opened:
        yield opened


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    """The app on an empty workshop; forms need no CSRF token here, ``test_csrf`` turns it on."""
    made = create_app(tmp_path / "workshop")
    made.config.update(TESTING=True, WTF_CSRF_ENABLED=False, PROPAGATE_EXCEPTIONS=False)
    yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def kept(app: Flask) -> Callable[[Callable[[Session], Any]], Any]:
    """A transaction on the records of the running app, given what to do in it."""
    records = app.extensions["defectlog"][0]

    def change(work: Callable[[Session], Any]) -> Any:
        with records.write() as session, session.begin():
            return work(session)

    return change
