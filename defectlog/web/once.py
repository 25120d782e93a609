"""A form is saved once, however often it is sent: a double tap, a reload of what came of it.

After the back button only where the browser shows the page it had. One that asks for it anew gets
a form with a new token, and what is sent with that is saved.
"""

import secrets
from collections.abc import Callable
from datetime import UTC, datetime

from flask import flash, redirect, request
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from defectlog.records import SavedForm
from defectlog.web.records import reading, transaction

ALREADY = "This was saved already; nothing was added a second time."


def once_token() -> str:
    """A fresh token for the hidden field ``once`` of a form."""
    return secrets.token_urlsafe(16)


def say(words: str, *, at: str) -> None:
    """Say something beside the entry the next page opens at, where a person looks."""
    flash(words, f"#{at}")


def keep_token(session: Session, token: str, target: str) -> None:
    """Note in a transaction what a token led to; without a token there is nothing to note."""
    if token:
        session.add(SavedForm(token=token, target=target, at=datetime.now(UTC)))


def targets_of(tokens: list[str]) -> dict[str, str]:
    """Where the tokens led that were used before."""
    found = ((token, reading().get(SavedForm, token[:64])) for token in tokens if token)
    return {token: before.target for token, before in found if before}


def save_once(save: Callable[[Session], str]) -> Response:
    """Run ``save`` in a transaction unless this very form was saved before.

    ``save`` returns the address to go on to; a form sent again is sent there too.
    """
    token = request.form.get("once", "")[:64]
    try:
        with transaction() as session:
            before = session.get(SavedForm, token) if token else None
            target = before.target if before else save(session)
            if not before:
                keep_token(session, token, target)
    except IntegrityError:
        # Two copies of the form raced; the first one is in, and says where it led.
        before = reading().get(SavedForm, token) if token else None
        if before is None:
            raise
        target = before.target
    if before:
        flash(ALREADY)
    return redirect(target, 303)
