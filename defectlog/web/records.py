"""One transaction a request: how views reach the records and the photo store."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import cast

from flask import Flask, current_app, g
from sqlalchemy.orm import Session

from defectlog.bench.people import make_sure
from defectlog.bench.who import write_as
from defectlog.photos.renditions import PhotoStore
from defectlog.records.session import Records
from defectlog.web.who import visitor, who

_KEY = "defectlog"


def attach(app: Flask, records: Records, store: PhotoStore) -> None:
    """Give the app its records and its photo store, and close what a request leaves open."""
    app.extensions[_KEY] = (records, store)
    app.teardown_appcontext(_end_reading)


def records() -> Records:
    """The records of the running app."""
    return cast(Records, current_app.extensions[_KEY][0])


def store() -> PhotoStore:
    """The store of photo files of the running app."""
    return cast(PhotoStore, current_app.extensions[_KEY][1])


def reading() -> Session:
    """The request's session for looking things up; it lives until the answer is written."""
    if "reading" not in g:
        g.reading = records().look()
    return cast(Session, g.reading)


@contextmanager
def transaction() -> Iterator[Session]:
    """A session whose changes are all kept at the end, or none of them after an error.

    Whoever may not change anything does not get one, however the request came so far.
    """
    with unchecked() as session:
        make_sure(session, visitor())
        write_as(session, who())
        yield session


@contextmanager
def unchecked() -> Iterator[Session]:
    """The same for coming in and going, before it is known who asks."""
    # An open read would keep SQLite from committing in this very request.
    _end_reading()
    with records().write() as session, session.begin():
        yield session


def _end_reading(_error: BaseException | None = None) -> None:
    session = g.pop("reading", None)
    if session is not None:
        session.close()
