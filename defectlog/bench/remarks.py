"""A remark as it is kept: as typed, or refused, but never cut short without a word."""

from defectlog.errors import FieldError, FormError

LONGEST = 4000  # characters


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
