"""One table of a data file, taken word by word, so that nothing unknown stays unnoticed."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from defectlog.errors import DefectlogError

T = TypeVar("T")


class EntryError(DefectlogError):
    """A data file of the guide says something the guide does not know."""

    def __init__(self, file: str, field: str, problem: str) -> None:
        self.file = file
        self.field = field
        super().__init__(
            f"The guide's file {file} cannot be read at {field}, {problem}",
            f"correct {field} in {file}",
        )


class Row:
    """One table of a data file: each word is taken once, and none may be left over."""

    def __init__(self, file: str, where: str, table: Any) -> None:
        self.file = file
        self.where = where
        if not isinstance(table, dict):
            raise EntryError(file, where, "a table is needed here")
        self._table = dict(table)

    def fault(self, name: str, problem: str) -> EntryError:
        return EntryError(self.file, f"{self.where}.{name}".lstrip("."), problem)

    def has(self, name: str) -> bool:
        return name in self._table

    def names(self) -> tuple[str, ...]:
        """The words not yet taken."""
        return tuple(self._table)

    def take(self, name: str) -> Any:
        if name not in self._table:
            raise self.fault(name, "it is missing")
        return self._table.pop(name)

    def text(self, name: str, *, optional: bool = False) -> str:
        if optional and not self.has(name):
            return ""
        value = self.take(name)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(name, "words are needed here")
        return value.strip()

    def texts(self, name: str, *, least: int = 1) -> tuple[str, ...]:
        value = self.take(name) if self.has(name) or least else []
        if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() for v in value):
            raise self.fault(name, "a list of words is needed here")
        if len(value) < least:
            raise self.fault(name, f"at least {least} is needed")
        return tuple(value)

    def one_of(self, name: str, words: Any) -> str:
        value = self.text(name)
        if value not in words:
            raise self.fault(name, f"“{value}” is not one of {', '.join(words)}")
        return value

    def number(self, name: str, low: float, high: float) -> float:
        value = self.take(name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fault(name, "a number is needed here")
        if not low < value < high:
            raise self.fault(name, f"{value} is not between {low} and {high}")
        return float(value)

    def rows(self, name: str, *, least: int = 1) -> "list[Row]":
        value = self.take(name) if self.has(name) or least else []
        if not isinstance(value, list) or len(value) < least:
            raise self.fault(name, f"a list of at least {least} is needed")
        where = f"{self.where}.{name}".lstrip(".")
        return [Row(self.file, f"{where}[{i + 1}]", row) for i, row in enumerate(value)]

    def all_of(self, name: str, known: Mapping[str, T], *, least: int = 1) -> tuple[T, ...]:
        """The objects a list of keys stands for."""
        for key in (keys := self.texts(name, least=least)):
            if key not in known:
                raise self.fault(name, f"“{key}” is not known")
        return tuple(known[key] for key in keys)

    def end(self) -> None:
        if self._table:
            raise self.fault(min(self._table), "it is not a word of the guide")


def read_table(path: Path) -> dict[str, Any]:
    """The table of one data file; a file that is no TOML is refused with its line."""
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise EntryError(path.name, "the whole file", str(error)) from error
