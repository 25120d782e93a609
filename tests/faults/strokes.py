"""What a process asked of its disk, in order, as ``strace`` wrote it down.

Only what is done to the files under one folder is kept, in the few words a disk knows: a name comes
or goes, bytes are written or cut off, a file or a folder is flushed. What the process says on its
standard output stands between, for that is what it has promised by then.
"""

import os
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

# Everything that changes a file, and what is needed to know which file it changes.
_CALLS = (
    "openat,open,creat,close,dup,dup2,dup3,fcntl,lseek,write,pwrite64,writev,pwritev,ftruncate,"
    "truncate,fallocate,fsync,fdatasync,sync_file_range,sendfile,copy_file_range,rename,renameat,"
    "renameat2,link,linkat,symlink,symlinkat,unlink,unlinkat,mkdir,mkdirat,rmdir"
)
_LINE = re.compile(r"(?P<call>\w+)\((?P<asked>.*)\) += (?P<got>-?\d+)")
_QUOTED = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_STDOUT = 1


@dataclass(frozen=True, slots=True)
class Made:
    """A folder was made."""

    path: str


@dataclass(frozen=True, slots=True)
class Named:
    """A file came into being, empty, under a name."""

    path: str
    file: int


@dataclass(frozen=True, slots=True)
class Renamed:
    """What had the one name has the other."""

    path: str
    to: str


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A name went."""

    path: str


@dataclass(frozen=True, slots=True)
class Wrote:
    """Bytes were put at a place in a file."""

    file: int
    at: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Cut:
    """A file was made so many bytes long."""

    file: int
    size: int


@dataclass(frozen=True, slots=True)
class Flushed:
    """What was written to a file is on the disk itself."""

    file: int


@dataclass(frozen=True, slots=True)
class FolderFlushed:
    """The names in a folder are on the disk itself."""

    path: str


@dataclass(frozen=True, slots=True)
class Said:
    """A line on the standard output."""

    words: str


Stroke = Made | Named | Renamed | Unnamed | Wrote | Cut | Flushed | FolderFlushed | Said


class UnknownStrokeError(Exception):
    """The process did something to a file that is not understood here: the replay would lie."""


@dataclass(slots=True)
class _Handle:
    file: int | None  # None: a folder
    path: str
    at: int = 0
    appends: bool = False


def numbered(folder: Path) -> dict[str, int]:
    """The files under a folder, each with the number it is called by in strokes."""
    files = sorted(path for path in folder.resolve().rglob("*") if path.is_file())
    return {str(path): number for number, path in enumerate(files)}


def can_trace() -> bool:
    """Whether strace is here and may watch a process."""
    try:
        return subprocess.run(["strace", "-o", os.devnull, "true"], check=False).returncode == 0
    except OSError:
        return False


def trace(command: list[str], folder: Path, written: Path) -> list[Stroke]:
    """Run a command to its end and tell what it did to the files under the folder.

    Raises
    ------
    subprocess.CalledProcessError
        If the command failed.
    UnknownStrokeError
        If it did something that cannot be replayed.
    """
    reader = _Reader(folder.resolve())
    watch = ["strace", "-f", "-xx", "-s", str(2**28), "-e", f"trace={_CALLS}", "-o", str(written)]
    subprocess.run([*watch, *command], check=True, stdout=subprocess.DEVNULL)
    return list(reader.read(written))


class _Reader:
    """Files are told apart by a number of their own, which outlives their names."""

    def __init__(self, folder: Path) -> None:
        self._folder = f"{folder}{os.sep}"
        self._handles: dict[int, _Handle] = {}
        self._files = numbered(folder)
        self._folders = {str(path) for path in folder.rglob("*") if path.is_dir()} | {str(folder)}
        self._next = len(self._files)

    def read(self, written: Path) -> Iterator[Stroke]:
        begun: dict[str, str] = {}
        with written.open() as lines:
            for line in lines:
                process, _, rest = line.rstrip("\n").partition(" ")
                rest = rest.lstrip()
                if rest.endswith("<unfinished ...>"):
                    begun[process] = rest.removesuffix("<unfinished ...>")
                    continue
                if rest.startswith("<... "):
                    rest = begun.pop(process) + rest.partition(" resumed>")[2]
                seen = _LINE.match(rest)
                if seen and int(seen["got"]) >= 0:
                    yield from self._stroke(seen["call"], seen["asked"], int(seen["got"]))

    def _stroke(self, call: str, asked: str, got: int) -> Iterator[Stroke]:
        quoted = [bytes.fromhex(q.replace("\\x", "")) for q in _QUOTED.findall(asked)]
        words = [word.strip() for word in _QUOTED.sub('""', asked).split(",")]
        # A name may stand after the folder it is in: every name has what it starts from before it.
        froms = [self._from(words, at) for at, word in enumerate(words) if word == '""']
        paths = [
            os.path.abspath(os.path.join(start, os.fsdecode(name)))
            for start, name in zip(froms, quoted, strict=True)
        ]
        if call in ("openat", "open", "creat"):
            yield from self._opened(paths[0], asked, got)
        elif call.startswith(("rename", "unlink", "mkdir", "rmdir", "link", "symlink", "truncate")):
            yield from self._named(call, paths)
        elif call in ("sendfile", "copy_file_range"):
            if {int(words[0]), int(words[2 if call == "copy_file_range" else 1])} & set(
                self._handles
            ):
                raise UnknownStrokeError(f"{call}({asked})")
        elif words[0] == str(_STDOUT) and call == "write":
            for line in quoted[0].decode().splitlines():
                yield Said(line)
        else:
            yield from self._to_handle(call, int(words[0]), words, quoted, got)

    def _from(self, words: list[str], at: int) -> str:
        before = words[at - 1] if at else ""
        handle = self._handles.get(int(before)) if before.isdecimal() else None
        return handle.path if handle else ""

    def _opened(self, path: str, asked: str, got: int) -> Iterator[Stroke]:
        self._handles.pop(got, None)
        if path in self._folders:
            self._handles[got] = _Handle(None, path)
        elif path.startswith(self._folder):
            if "O_CREAT" in asked and path not in self._files:
                self._files[path] = self._next
                self._next += 1
                yield Named(path, self._files[path])
            file = self._files[path]
            if "O_TRUNC" in asked:
                yield Cut(file, 0)
            self._handles[got] = _Handle(file, path, appends="O_APPEND" in asked)

    def _named(self, call: str, paths: list[str]) -> Iterator[Stroke]:
        ours = [path.startswith(self._folder) for path in paths]
        if not any(ours):
            return
        if call.startswith("rename") and all(ours) and paths[0] in self._files:
            self._files[paths[1]] = self._files.pop(paths[0])
            yield Renamed(*paths)
        elif call.startswith(("unlink", "rmdir")):
            self._files.pop(paths[0], None)
            self._folders.discard(paths[0])
            yield Unnamed(paths[0])
        elif call.startswith("mkdir"):
            self._folders.add(paths[0])
            yield Made(paths[0])
        else:
            raise UnknownStrokeError(f"{call}{paths}")

    def _to_handle(
        self, call: str, number: int, words: list[str], quoted: list[bytes], got: int
    ) -> Iterator[Stroke]:
        handle = self._handles.get(number)
        if call == "close":
            self._handles.pop(number, None)
        elif handle is None:
            # A number that is taken over by another file stands for that one.
            if call in ("dup2", "dup3"):
                self._handles.pop(got, None)
        elif call.startswith("dup") or (call == "fcntl" and "F_DUPFD" in words[1]):
            self._handles[got] = handle
        elif call in ("fsync", "fdatasync"):
            yield FolderFlushed(handle.path) if handle.file is None else Flushed(handle.file)
        elif call == "lseek":
            handle.at = got
        elif call == "write" and not handle.appends:
            yield Wrote(handle.file, handle.at, quoted[0][:got])
            handle.at += got
        elif call == "write":
            yield Wrote(handle.file, -1, quoted[0][:got])
        elif call == "pwrite64":
            yield Wrote(handle.file, int(words[3]), quoted[0][:got])
        elif call == "ftruncate":
            yield Cut(handle.file, int(words[1]))
        elif call != "fcntl":
            raise UnknownStrokeError(f"{call} on {handle.path}")
