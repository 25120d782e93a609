"""What is no text is refused before a view sees it: PostgreSQL keeps no NUL, nothing half a letter.

Where text is read, other control characters are tidied away; these two would end in a fault of the
database's instead.
"""

from collections.abc import Iterable

from flask import Flask, request

from defectlog.errors import FieldError


def register(app: Flask) -> None:
    """Look at every field of every form and address."""
    app.before_request(_look)


def _look() -> None:
    # The way in looks for itself: a passphrase that is no text is a wrong one and no more.
    if request.blueprint == "entry":
        return
    refuse_no_text(request.args.items(multi=True))
    refuse_no_text(request.form.items(multi=True))


def refuse_no_text(fields: Iterable[tuple[str, object]]) -> None:
    """Check named values, of which only texts matter.

    Raises
    ------
    FieldError
        If one holds a NUL, or half of a letter that is written in two halves.
    """
    for name, value in fields:
        if isinstance(value, str) and not _is_text(name + value):
            shown = "".join(letter for letter in name if letter.isprintable())[:40]
            raise FieldError(
                shown,
                f"What was sent for “{shown}” holds signs that are no text",
                "type it anew; nothing was changed",
            )


def _is_text(value: str) -> bool:
    if "\0" in value:
        return False
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return True
