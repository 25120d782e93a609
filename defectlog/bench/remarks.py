"""A remark as it is kept: as typed, or refused, but never cut short without a word."""

from defectlog.errors import FieldError, FormError

LONGEST = 4000  # characters


def remark(kept: str, typed: str, seen: str | None) -> str:
    """The remark to keep when ``typed`` was written over ``seen``.

    Where another screen has written one meanwhile, both are kept, the earlier one first.
    """
    typed = short_enough(typed)
    if seen is None or short_enough(seen) == kept or typed == kept:
        return typed
    return short_enough(f"{kept}\n{typed}")


def short_enough(note: str) -> str:
    """The remark without blank ends, each line ending counted as one character.

    Raises
    ------
    FormError
        If it is longer than is kept.
    """
    note = note.replace("\r\n", "\n").strip()
    if len(note) > LONGEST:
        raise FormError(
            [FieldError("note", f"The remark is over {LONGEST} characters", "shorten it")]
        )
    return note
