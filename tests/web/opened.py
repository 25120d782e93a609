"""An app opened to the workshop network, and how phones and the PC come into it."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import update

from defectlog.bench import passphrase
from defectlog.bench.pairing import NewCode, allow, asking, new_code
from defectlog.records import FailedTry, Role
from defectlog.web import create_app
from defectlog.web.network import Network
from tests.web.browsers import PASSPHRASE, Browser, keep_passphrase


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    folder = Path(tmp_path_factory.mktemp("opened"))
    made = create_app(folder, network=Network(True, "http://hatch.local:8031", ("hatch.local",)))
    with pytest.MonkeyPatch.context() as patch:
        # A hash that is quick, for there are many here; bench/test_passphrase.py has the real one.
        patch.setattr(passphrase, "_N", 2**8)
        keep_passphrase(made)
        yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture(autouse=True)
def nobody_tried_before(opened: Flask) -> None:
    with opened.extensions["defectlog"][0].write() as session, session.begin():
        session.query(FailedTry).delete()


def at_pc(app: Flask) -> Browser:
    return Browser(app, address="127.0.0.1")


def code(app: Flask, role: Role = Role.MAKER) -> NewCode:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        return new_code(session, role, at=datetime.now(UTC))


def set_back(app: Flask, table: type, **times: datetime) -> None:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        session.execute(update(table).values(**times))


def come_in(browser: Browser, words: str = PASSPHRASE):
    return browser.post("/enter", {"passphrase": words, "name": "Office"})


def ask(browser: Browser, typed: str, name: str = "Anna's phone"):
    return browser.post("/pair", {"code": typed, "name": name}, page="/pair")


def pair(browser: Browser, typed: str, name: str = "Anna's phone"):
    """Bring a code, be let in at the PC, and fetch the key."""
    answer = ask(browser, typed, name)
    if answer.status_code != 303:
        return answer
    with browser.app.extensions["defectlog"][0].write() as session, session.begin():
        *_, waits = asking(session, at=datetime.now(UTC))
        allow(session, waits.number, at=datetime.now(UTC))
    return browser.post("/pair/waiting", {}, page="/pair/waiting")
