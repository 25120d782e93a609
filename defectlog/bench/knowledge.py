"""What two shops hand each other: own kinds, causes, fixes and notes, and how often it held."""

from dataclasses import dataclass
from datetime import datetime

from defectlog.records import Counted
from defectlog.units import plural

FORMAT = "defectlog knowledge"
VERSION = 2  # 1 had no fixes, and no answers of a kind to the key


@dataclass(frozen=True, slots=True)
class Shop:
    """A workshop by the mark its files carry, and what it is called."""

    uid: str
    name: str


@dataclass(frozen=True, slots=True)
class SharedKind:
    """A kind the guide does not have, and the shop that wrote it down."""

    key: str
    code: str
    title: str
    look: str
    definition: str
    origin: Shop
    answers: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class SharedCause:
    """A cause the guide does not have. The check is empty, with no minutes, or whole."""

    kind: str
    key: str
    title: str
    why: str
    check_do: str
    check_positive: str
    check_minutes: float | None
    prevention: str
    origin: Shop


@dataclass(frozen=True, slots=True)
class SharedFix:
    """A fix the guide does not have; each step with the keys of the cautions chosen for it."""

    kind: str
    key: str
    title: str
    outcome: str
    steps: tuple[tuple[str, tuple[str, ...]], ...]
    not_when: str
    reinspect: str
    time: str
    origin: Shop


@dataclass(frozen=True, slots=True)
class SharedNote:
    """A house note of the shop the file is from."""

    uid: str
    kind: str
    words: str
    written_at: datetime


@dataclass(frozen=True, slots=True)
class SharedCount:
    """``count`` of ``cases``: a cause confirmed among findings with a confirmed cause, or a fix
    that held among those looked at again. The key is empty for fixes that are not the guide's."""

    about: Counted
    kind: str
    key: str
    count: int
    cases: int


@dataclass(frozen=True, slots=True)
class Knowledge:
    """All of one file."""

    shop: Shop
    exported_at: datetime
    kinds: tuple[SharedKind, ...] = ()
    causes: tuple[SharedCause, ...] = ()
    notes: tuple[SharedNote, ...] = ()
    counts: tuple[SharedCount, ...] = ()
    fixes: tuple[SharedFix, ...] = ()
    version: int = VERSION

    @property
    def is_empty(self) -> bool:
        return not (self.kinds or self.causes or self.fixes or self.notes or self.counts)


def how_many(kinds: int, causes: int, fixes: int, notes: int, counts: int) -> list[str]:
    """``["1 kind", "2 fixes"]``: what there is any of, in words."""
    parts = (
        (kinds, "kind", None),
        (causes, "cause", None),
        (fixes, "fix", "fixes"),
        (notes, "note", None),
        (counts, "count", None),
    )
    return [plural(number, one, many) for number, one, many in parts if number]
