"""One table of a file from outside, taken word by word: typed, bounded, none left over."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from defectlog.bench.own_kinds import is_code
from defectlog.bench.own_words import LONGEST, MOST_MINUTES, tidy
from defectlog.bench.parts import one_line
from defectlog.errors import DefectlogError

_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_UID = re.compile(r"[0-9a-f]{8,32}")
_YEARS = range(2000, 2200)
_MOST_QUESTIONS = 40


class KnowledgeFileError(DefectlogError):
    """A file that is not as this version writes it."""

    def __init__(self, where: str, problem: str) -> None:
        self.where = where
        place = f", at {where}" if where else ""
        super().__init__(
            f"The file cannot be taken in{place}: {problem}",
            "ask for a fresh one, saved under Share what the shop knows; nothing was changed",
        )


class Row:
    """One table: each word is taken once, checked, and none may be left over."""

    def __init__(self, where: str, table: Any) -> None:
        self._where = where
        if not isinstance(table, dict):
            raise KnowledgeFileError(where, "a table is needed here")
        self._table = dict(table)

    def fault(self, name: str, problem: str) -> KnowledgeFileError:
        return KnowledgeFileError(", ".join(filter(None, (self._where, name))), problem)

    def end(self) -> None:
        """Refuse what was not taken."""
        if self._table:
            raise self.fault(_shown(min(self._table)), "that is not known here")

    def take(self, name: str) -> Any:
        if name not in self._table:
            raise self.fault(name, "it is missing")
        return self._table.pop(name)

    def row(self, name: str) -> "Row":
        return Row(", ".join(filter(None, (self._where, name))), self.take(name))

    def rows(self, name: str, most: int) -> Iterator["Row"]:
        value = self.take(name)
        if not isinstance(value, list):
            raise self.fault(name, "a list is needed here")
        if len(value) > most:
            raise self.fault(name, f"there are more than {most} rows")
        for number, table in enumerate(value, 1):
            yield Row(f"{name} {number}", table)

    def text(self, name: str, *, least: int = 1) -> str:
        """Words on one or more lines."""
        value = self.take(name)
        if not isinstance(value, str) or len(value) < least:
            raise self.fault(name, "words are needed here")
        if len(value) > LONGEST:
            raise self.fault(name, f"it is longer than {LONGEST} characters")
        if tidy(value) != value:
            raise self.fault(name, "it has blank ends, or holds what is no text")
        return value

    def line(self, name: str, most: int, *, least: int = 1) -> str:
        """Words on one line."""
        value = self.text(name, least=least)
        if len(value) > most:
            raise self.fault(name, f"it is longer than {most} characters")
        if one_line(value) != value:
            raise self.fault(name, "it holds more than a line of text")
        return value

    def key(self, name: str, most: int, *, may_be_empty: bool = False) -> str:
        value = self.take(name)
        if value == "" and may_be_empty:
            return ""
        if not isinstance(value, str) or len(value) > most or not _KEY.fullmatch(value):
            raise self.fault(name, "that is no key")
        return value

    def keys(self, name: str, most: int) -> tuple[str, ...]:
        """A list of keys, none twice."""
        value = self.take(name)
        if not isinstance(value, list) or len(value) > most or not all(map(_is_key, value)):
            raise self.fault(name, "a short list of keys is needed here")
        if len(set(value)) < len(value):
            raise self.fault(name, "a key is used twice")
        return tuple(value)

    def answers(self, name: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Answers by question. Which there are is not looked at: a newer guide may ask more."""
        asked = self.row(name)
        names = asked.names()
        if len(names) > _MOST_QUESTIONS or not all(map(_is_key, names)):
            raise self.fault(name, "answers by question are needed here")
        return tuple((question, asked.keys(question, _MOST_QUESTIONS)) for question in names)

    def names(self) -> tuple[str, ...]:
        """The words still to be taken, in the order of the file."""
        return tuple(self._table)

    def own_key(self, name: str, most: int) -> str:
        """A key that can never be one of the guide's."""
        value = self.key(name, most)
        if not value.startswith("own-"):
            raise self.fault(name, "the key of a shop's own begins with own-")
        return value

    def uid(self, name: str) -> str:
        value = self.take(name)
        if not isinstance(value, str) or not _UID.fullmatch(value):
            raise self.fault(name, "that is no mark")
        return value

    def code(self, name: str) -> str:
        value = self.take(name)
        if not isinstance(value, str) or not is_code(value):
            raise self.fault(name, "two capital letters are needed here")
        return value

    def whole(self, name: str, least: int, most: int) -> int:
        value = self.take(name)
        if type(value) is not int or not least <= value <= most:
            raise self.fault(name, f"a whole number from {least} to {most} is needed here")
        return value

    def minutes(self, name: str) -> float | None:
        value = self.take(name)
        if value is None:
            return None
        if type(value) not in (int, float) or not 0 < value <= MOST_MINUTES:
            raise self.fault(name, f"minutes above 0, to {MOST_MINUTES}, are needed here")
        return float(value)

    def moment(self, name: str) -> datetime:
        value = self.take(name)
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError) as error:
            raise self.fault(name, "that is no date and time") from error
        if moment.tzinfo is None or moment.year not in _YEARS:
            raise self.fault(name, "a date of our time with its time zone is needed here")
        return moment.astimezone(UTC)


def _is_key(value: object) -> bool:
    return isinstance(value, str) and len(value) <= 60 and bool(_KEY.fullmatch(value))


def _shown(name: str) -> str:
    """A name from outside, short enough for a sentence."""
    return f"“{name[:40]}”"
