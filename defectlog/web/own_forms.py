"""What the forms of the shop's own knowledge share: saved, opened again, deleted, brought back."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

from flask import flash, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.own_rows import delete_own, restore_own
from defectlog.bench.own_words import state_of
from defectlog.errors import ChangedMeanwhileError, FieldError, FormError
from defectlog.records import HouseNote, OwnCause, OwnFix, OwnKind
from defectlog.web.once import save_once
from defectlog.web.parts import by_field

# A form again: what was typed, what is wrong, and what its words were opened on.
Page = Callable[[Mapping[str, str], Mapping[str, str], str], str]


def saved_or(page: Page, save: Callable[[Session], str]) -> ResponseReturnValue:
    """Save a form once, or show its page again with what was typed and what is wrong.

    Where the words were changed meanwhile, the page is opened on what stands there now: it shows
    that, and the next save replaces it knowingly.
    """
    try:
        return save_once(save)
    except (FieldError, FormError) as error:
        overtaken = isinstance(error, ChangedMeanwhileError)
        opened_on = "" if overtaken else opened()
        return page(request.form, by_field(error), opened_on), 409 if overtaken else 400


def opened() -> str:
    """What the words of the form were when it was opened."""
    return request.form.get("opened_on", "")[:64]


def back_to(kind: str, anchor: str) -> str:
    """The place on the page of a kind to go on at."""
    return url_for("guide.show", key=kind, _anchor=anchor)


def standing(
    row: OwnKind | OwnCause | OwnFix | HouseNote | None, errors: Mapping[str, str], opened_on: str
) -> dict[str, Any]:
    """What a form remembers of the row it is opened on, and whether that was changed meanwhile."""
    return {
        "errors": errors,
        "opened_on": opened_on or (state_of(row) if row else ""),
        "overtaken": bool(errors) and row is not None and not opened_on,
    }


def delete_and_say(
    table: type[OwnCause] | type[OwnFix], kind: str, key: str, *, place: str, among: str
) -> ResponseReturnValue:
    """Delete an own cause or fix, and go back to that place on the page of its kind."""

    def save(session: Session) -> str:
        row = delete_own(session, table, kind, key, at=datetime.now(UTC))
        flash(f"“{row.title}” is deleted. It can be brought back at the foot of the {among}.")
        return back_to(kind, place)

    return save_once(save)


def restore_and_say(
    table: type[OwnCause] | type[OwnFix], kind: str, key: str, *, place: str
) -> ResponseReturnValue:
    """Bring an own cause or fix back, and go to it on the page of its kind."""

    def save(session: Session) -> str:
        flash(f"“{restore_own(session, table, kind, key).title}” is back.")
        return back_to(kind, place)

    return save_once(save)
