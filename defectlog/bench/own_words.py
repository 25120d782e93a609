"""What a person types of the shop's own knowledge, tidied and held to its lengths."""

import hashlib
import re
import secrets
import unicodedata
from collections.abc import Iterator

from defectlog.bench.parts import one_line
from defectlog.errors import ChangedMeanwhileError, DefectlogError, FieldError
from defectlog.records import Elsewhere, HouseNote, OwnCause, OwnFix, OwnKind

LONGEST = 2000  # characters of a text; of a title see each
MOST_MINUTES = 24 * 60


class NotOursError(DefectlogError):
    """What came from another shop stays as that shop wrote it."""

    def __init__(self, elsewhere: Elsewhere) -> None:
        super().__init__(
            f"This came from {elsewhere.name} and is not changed here",
            "write your own beside it, or a house note under it",
        )


def tidy(text: str) -> str:
    """A text as it is kept: without blank ends, each line ending one character, all of it text."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(c for c in lines if c in "\n\t" or not _is_no_text(c)).strip()


def _is_no_text(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cs")


def title_faults(field: str, label: str, text: str, most: int) -> Iterator[FieldError]:
    """What is wrong with a title, which has to be there."""
    if not one_line(text):
        yield FieldError(field, f"The {label} is missing", "call it what the shop calls it")
    elif len(one_line(text)) > most:
        yield FieldError(field, f"The {label} is longer than {most} characters", "shorten it")


def text_faults(field: str, label: str, text: str, *, needed: str = "") -> Iterator[FieldError]:
    """What is wrong with a text; ``needed`` says what to write if it may not be empty."""
    if needed and not tidy(text):
        yield FieldError(field, f"The {label} is missing", needed)
    if len(tidy(text)) > LONGEST:
        what = f"The {label} is longer than {LONGEST} characters"
        yield FieldError(field, what, "shorten it")


def own_key(title: str) -> str:
    """A key that no other shop will have made: ``own-kelp-print-3fa91c``, at most 40 letters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().casefold()
    slug = "-".join(re.findall(r"[a-z0-9]+", plain))[:24].strip("-")
    return "-".join(filter(None, ("own", slug, secrets.token_hex(3))))


def state_of(row: OwnKind | OwnCause | OwnFix | HouseNote) -> str:
    """A short mark of all that a row says now, for a form to remember what it was opened on."""
    said = [getattr(row, column.key) for column in row.__table__.columns]
    return hashlib.sha256(repr(said).encode()).hexdigest()[:16]


def see_ours_unchanged(
    row: OwnKind | OwnCause | OwnFix | HouseNote, opened_on: str, field: str, what: str
) -> None:
    """Refuse to change what another shop wrote, or what was opened on other words than stand now.

    Raises
    ------
    NotOursError
        If it came from another shop.
    ChangedMeanwhileError
        Naming the field beside which to say so. A form that does not tell is taken at its word.
    """
    if row.elsewhere is not None:
        raise NotOursError(row.elsewhere)
    if not opened_on or opened_on == state_of(row):
        return
    gone = getattr(row, "deleted_at", None) is not None
    raise ChangedMeanwhileError(
        [
            FieldError(
                field,
                f"This {what} was {'deleted' if gone else 'changed'} on another screen meanwhile",
                "what stands there now is shown below; save again to put yours in its place",
            )
        ]
    )
