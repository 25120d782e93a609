"""All entries of the guide, read once and looked up by key."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from defectlog.errors import NotFoundError
from defectlog.guide.entry import Family, Kind
from defectlog.guide.row import EntryError, read_table
from defectlog.guide.schema import read_kind
from defectlog.guide.shared import Shared, read_shared
from defectlog.guide.signs import KeyData, read_key

HERE = Path(__file__).parent


@cache
def shared() -> Shared:
    """What all entries draw on."""
    return read_shared(HERE / "shared")


@cache
def kinds() -> tuple[Kind, ...]:
    """Every kind, in the order of the families and then of the titles.

    Raises
    ------
    EntryError
        If a file says what the guide does not know, or a code is used twice.
    """
    return read_folder(HERE / "entries", shared())


@cache
def key_data() -> KeyData:
    """The questions of the key, and what every kind answers to them.

    Raises
    ------
    EntryError
        If questions or signs say what the guide does not know, or a kind has no signs.
    """
    return read_key(HERE / "shared", [kind.key for kind in kinds()], shared().tests)


def read_folder(folder: Path, common: Shared) -> tuple[Kind, ...]:
    """Read every entry of a folder, and see that codes and look-alikes hold together."""
    found = [read_kind(path.stem, read_table(path), common) for path in folder.glob("*.toml")]
    shelves = list(common.families)
    found.sort(key=lambda kind: (shelves.index(kind.family.key), kind.title))
    keys = {kind.key for kind in found}
    codes: dict[str, str] = {}
    for kind in found:
        if kind.code in codes:
            problem = f"“{kind.code}” is already the code of {codes[kind.code]}"
            raise EntryError(f"{kind.key}.toml", "code", problem)
        codes[kind.code] = kind.key
        for other in kind.unlike:
            if other.kind and (other.kind not in keys or other.kind == kind.key):
                problem = f"“{other.kind}” is no other entry"
                raise EntryError(f"{kind.key}.toml", "unlike.kind", problem)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Library:
    """Kinds on their shelves: those of the guide, and with them those of a shop, if any."""

    kinds: tuple[Kind, ...]
    shelves: tuple[Family, ...]

    def find(self, key: str) -> Kind | None:
        """The kind of this key, if there is one."""
        return next((one for one in self.kinds if one.key == key), None)

    def kind(self, key: str) -> Kind:
        """The kind of this key.

        Raises
        ------
        NotFoundError
            If there is no such kind.
        """
        one = self.find(key)
        if one is None:
            raise NotFoundError("kind of defect", key)
        return one

    def families(self) -> tuple[tuple[Family, tuple[Kind, ...]], ...]:
        """The shelves that hold something, each with its kinds."""
        shelves = ((family, self._on(family)) for family in self.shelves)
        return tuple((family, held) for family, held in shelves if held)

    def _on(self, family: Family) -> tuple[Kind, ...]:
        return tuple(one for one in self.kinds if one.family == family)


def guide_library() -> Library:
    """The guide as it comes, without anything of a shop."""
    return Library(kinds(), tuple(shared().families.values()))


def kind(key: str) -> Kind:
    """The kind of this key in the guide.

    Raises
    ------
    NotFoundError
        If the guide has no such kind.
    """
    return guide_library().kind(key)


def families() -> tuple[tuple[Family, tuple[Kind, ...]], ...]:
    """The shelves of the guide that hold something, each with its kinds."""
    return guide_library().families()
