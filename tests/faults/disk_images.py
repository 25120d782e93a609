"""What a disk may hold after the power went, by what was asked of it until then.

Bytes that were written and not flushed may be there or not, each write for itself and torn
anywhere; a name that came, went or changed in a folder not flushed since may be as before. Names of
one folder change in the order they were asked to (POSIX promises less; file systems with a journal,
and those that write copies, all keep to it). What was flushed is there.
"""

import os
import random
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.strokes import (
    Cut,
    Flushed,
    FolderFlushed,
    Made,
    Named,
    Renamed,
    Said,
    Stroke,
    Unnamed,
    Wrote,
    numbered,
)


@dataclass(frozen=True, slots=True)
class Change:
    """One change of names: some paths go, one may come, with its file or (None) as a folder."""

    goes: tuple[str, ...] = ()
    comes: str | None = None
    file: int | None = None

    @property
    def folders(self) -> frozenset[str]:
        """Where it happens; flushed in one of them, it is on the disk."""
        paths = self.goes if self.comes is None else (*self.goes, self.comes)
        return frozenset(os.path.dirname(path) for path in paths)

    def apply(self, names: dict[str, int | None]) -> None:
        for path in self.goes:
            names.pop(path, None)
        if self.comes is not None:
            names[self.comes] = self.file


@dataclass(slots=True)
class File:
    """The bytes that are safe, and what was asked since the last flush."""

    safe: bytes = b""
    asked: list[Wrote | Cut] = field(default_factory=list)

    def with_asked(self, kept: Iterable[Wrote | Cut]) -> bytes:
        content = bytearray(self.safe)
        for stroke in kept:
            if isinstance(stroke, Cut):
                del content[stroke.size :]
                content.extend(bytes(stroke.size - len(content)))
            else:
                at = len(content) if stroke.at < 0 else stroke.at
                content.extend(bytes(max(0, at + len(stroke.data) - len(content))))
                content[at : at + len(stroke.data)] = stroke.data
        return bytes(content)


# Which of the names asked for, and which of the writes, a power cut leaves.
Luck = tuple[
    Callable[[list[Change]], list[Change]],
    Callable[[list[Wrote | Cut]], list[Wrote | Cut]],
]


class Disk:
    """A folder as it is asked to be, and what of that is safe. It starts as it is, all flushed."""

    def __init__(self, folder: Path) -> None:
        files = numbered(folder)
        self._folder = str(folder.resolve())
        self._names: dict[str, int | None] = {}
        self._files: dict[int, File] = {}
        for path in folder.resolve().rglob("*"):
            self._names[str(path)] = files.get(str(path))
        for path, number in files.items():
            self._files[number] = File(Path(path).read_bytes())
        self._now = dict(self._names)
        self._changes: list[Change] = []

    def take(self, stroke: Stroke) -> None:
        match stroke:
            case Said():
                pass
            case Wrote(file) | Cut(file):
                self._files[file].asked.append(stroke)
            case Flushed(file):
                flushed = self._files[file]
                flushed.safe, flushed.asked = flushed.with_asked(flushed.asked), []
            case FolderFlushed(path):
                for change in self._changes:
                    if path in change.folders:
                        change.apply(self._names)
                self._changes = [c for c in self._changes if path not in c.folders]
            case _:
                change = self._change(stroke)
                change.apply(self._now)
                self._changes.append(change)

    def _change(self, stroke: Stroke) -> Change:
        match stroke:
            case Made(path):
                return Change(comes=path)
            case Named(path, file):
                self._files[file] = File()
                return Change(comes=path, file=file)
            case Renamed(path, to):
                return Change(goes=(path,), comes=to, file=self._now[path])
            case Unnamed(path):
                return Change(goes=(path,))
        raise TypeError(stroke)

    def image(self, luck: Luck) -> dict[str, bytes | None]:
        """What would be left: the bytes of each file, None for a folder, by path in the folder."""
        names = dict(self._names)
        for change in luck[0](self._changes):
            change.apply(names)
        image: dict[str, bytes | None] = {}
        # Parents come first; what lies in a folder that is not there is not there.
        for path in sorted(names):
            parent = os.path.relpath(os.path.dirname(path), self._folder)
            if parent != "." and parent not in image:
                continue
            file = names[path]
            content = None
            if file is not None:
                kept = self._files[file]
                content = kept.with_asked(luck[1](kept.asked))
            image[os.path.relpath(path, self._folder)] = content
        return image


def lay_out(image: Mapping[str, bytes | None], folder: Path) -> None:
    """Write an image into an empty folder."""
    folder.mkdir(parents=True)
    for path, content in image.items():
        if content is None:
            (folder / path).mkdir()
        else:
            (folder / path).write_bytes(content)


def lucks(chance: random.Random, by_chance: int) -> Iterator[Luck]:
    """All the ends, nothing or everything of names and of bytes, and some in between."""

    def nothing(asked: list) -> list:  # type: ignore[type-arg]
        return []

    yield nothing, nothing
    yield list, nothing
    yield nothing, list
    yield list, list
    for _ in range(by_chance):
        yield (
            lambda changes: _first_of_each_folder(changes, chance),
            lambda writes: [_torn(w, chance) for w in writes if chance.random() < 0.5],
        )


def _first_of_each_folder(changes: list[Change], chance: random.Random) -> list[Change]:
    """So many of the changes in each folder as chance has it, the earlier ones."""
    stopped: set[str] = set()
    kept = []
    for change in changes:
        if stopped.isdisjoint(change.folders) and chance.random() < 0.8:
            kept.append(change)
        else:
            stopped |= change.folders
    return kept


def _torn(stroke: Wrote | Cut, chance: random.Random) -> Wrote | Cut:
    """Now and then a write ends after some sectors of 512 bytes."""
    if isinstance(stroke, Cut) or len(stroke.data) <= 512 or chance.random() < 0.7:
        return stroke
    sectors = chance.randrange(1, -(-len(stroke.data) // 512))
    return Wrote(stroke.file, stroke.at, stroke.data[: 512 * sectors])
