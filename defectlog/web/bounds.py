"""How much a request may bring: little, unless the view that takes it says otherwise."""

from collections.abc import Callable
from typing import TypeVar

from flask import Flask, current_app, request

MIB = 2**20
# Text of forms and scripts. The longest note is a few kilobytes.
MOST_BYTES = MIB
# One photo with the form around it, and several photos of one batch in one plain form.
PHOTO_BYTES = 65 * MIB
BATCH_BYTES = 512 * MIB
# Fields and files of one form. A build asks for some eighty facts; a batch of photos is smaller.
MOST_PARTS = 300

_TAKES = "_takes_bytes"
_View = TypeVar("_View", bound=Callable[..., object])


def takes_up_to(size: int) -> Callable[[_View], _View]:
    """Mark a view that takes files: the most bytes of a whole request to it."""

    def mark(view: _View) -> _View:
        setattr(view, _TAKES, size)
        return view

    return mark


def register(app: Flask) -> None:
    """Bound every request before it is read."""
    app.config.update(MAX_FORM_MEMORY_SIZE=MOST_BYTES, MAX_FORM_PARTS=MOST_PARTS)
    app.before_request(_bound)


def _bound() -> None:
    view = current_app.view_functions.get(request.endpoint or "")
    most = current_app.config["MAX_CONTENT_LENGTH"]
    request.max_content_length = min(getattr(view, _TAKES, MOST_BYTES), most)
