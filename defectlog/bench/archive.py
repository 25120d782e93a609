"""The form of a backup: a ZIP of the records, the originals by hash, and a list of both, last."""

import json
import re
import zipfile
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from defectlog.errors import DefectlogError
from defectlog.photos.sniff import FORMATS
from defectlog.records.migrating import known_steps

KIND, FORM = "defectlog backup", 1
MANIFEST, RECORDS_NAME = "manifest.json", "records.sqlite"
CHUNK = 2**20

_MOST_MANIFEST_BYTES = 256 * 2**20
_HASH = re.compile(r"[0-9a-f]{64}")
_ENDINGS = "|".join(kind.extension for kind in FORMATS)
_PHOTO = re.compile(rf"photos/(?P<start>[0-9a-f]{{2}})/(?P<sha256>[0-9a-f]{{64}})\.({_ENDINGS})")


class NotABackupError(DefectlogError):
    """The file is not a backup of ours, or not one this version can read."""

    def __init__(self, problem: str, do: str = "choose a file that defectlog backup made") -> None:
        super().__init__(f"This is no backup of defectlog, {problem}", do)


class NewerBackupError(DefectlogError):
    """The backup was made by a later version than this one."""

    def __init__(self, version: str) -> None:
        super().__init__(
            f"This backup was made by a newer defectlog ({version})",
            "install that version or a later one; nothing was changed",
        )


class DamagedBackupError(DefectlogError):
    """The backup does not hold what its own list says."""

    def __init__(self, problem: str) -> None:
        super().__init__(
            f"This backup is damaged, {problem}",
            "use another one, or copy it again from where it was kept; nothing was changed",
        )


@dataclass(frozen=True, slots=True)
class Member:
    """A file of the archive: its name there, the SHA-256 of its bytes, how many there are."""

    name: str
    sha256: str
    bytes: int

    @property
    def named_for(self) -> str:
        """The hash an original is named for; other bytes under it were damaged when backed up."""
        return PurePosixPath(self.name).stem


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds, and what could not be put in because it was lost already."""

    made_at: str
    version: str
    step: str
    workshop: str
    counts: dict[str, int]
    records: Member
    originals: tuple[Member, ...]
    missing: tuple[str, ...]

    @property
    def damaged(self) -> tuple[str, ...]:
        """Originals whose bytes were not what they are named for when the backup was made."""
        return tuple(m.named_for for m in self.originals if m.named_for != m.sha256)

    def as_json(self) -> str:
        said = {
            "kind": KIND,
            "form": FORM,
            "made_at": self.made_at,
            "version": self.version,
            "step": self.step,
            "workshop": self.workshop,
            "counts": self.counts,
            "records": _member_json(self.records),
            "originals": [_member_json(member) for member in self.originals],
            "missing": list(self.missing),
            "damaged": list(self.damaged),
        }
        return json.dumps(said, ensure_ascii=False, indent=1)


def _member_json(member: Member) -> dict[str, Any]:
    return {"name": member.name, "sha256": member.sha256, "bytes": member.bytes}


def read_manifest(archive: zipfile.ZipFile) -> Manifest:
    """The list of a backup, believed only where it fits the archive; names cannot lead elsewhere.

    Raises
    ------
    NotABackupError, NewerBackupError, DamagedBackupError
        As their names say.
    """
    manifest = _parse(_said(archive))
    if manifest.step not in known_steps():
        raise NewerBackupError(manifest.version)
    listed = {member.name: member for member in (manifest.records, *manifest.originals)}
    if manifest.records.name != RECORDS_NAME or len(listed) != 1 + len(manifest.originals):
        raise DamagedBackupError("its list names a file twice")
    for member in manifest.originals:
        named = _PHOTO.fullmatch(member.name)
        if not named or named["start"] != named["sha256"][:2]:
            raise NotABackupError(f"it holds a file at a place of its own ({member.name[:80]!r})")
    there = [info.filename for info in archive.infolist() if info.filename != MANIFEST]
    if extra := sorted(set(there) - set(listed)):
        raise NotABackupError(f"it holds a file that is not on its list ({extra[0][:80]!r})")
    if lost := sorted(set(listed) - set(there)):
        raise DamagedBackupError(f"{lost[0]} is missing from it")
    if len(there) != len(listed):
        raise DamagedBackupError("it holds a file twice")
    for info in archive.infolist():
        if info.filename in listed and info.file_size != listed[info.filename].bytes:
            raise DamagedBackupError(f"{info.filename} has not the size on its list")
    return manifest


def _said(archive: zipfile.ZipFile) -> dict[str, Any]:
    named = [info for info in archive.infolist() if info.filename == MANIFEST]
    if len(named) != 1 or named[0].file_size > _MOST_MANIFEST_BYTES:
        raise NotABackupError("it has no list of what it holds, or was cut short while being made")
    try:
        said = json.loads(archive.read(named[0]))
    except (zipfile.BadZipFile, ValueError, EOFError, OSError, RuntimeError) as error:
        raise DamagedBackupError("the list of what it holds cannot be read") from error
    except Exception as error:  # the unpacker's own zlib.error and NotImplementedError
        raise DamagedBackupError("the list of what it holds cannot be unpacked") from error
    if not isinstance(said, dict) or said.get("kind") != KIND:
        raise NotABackupError("its list is of another kind")
    if said.get("form") != FORM:
        raise NewerBackupError(str(said.get("version", "unknown"))[:40])
    return said


def _parse(said: dict[str, Any]) -> Manifest:
    try:
        return Manifest(
            made_at=_text(said["made_at"]),
            version=_text(said["version"]),
            step=_text(said["step"]),
            workshop=_text(said["workshop"]),
            counts={_text(name): _whole(count) for name, count in said["counts"].items()},
            records=_member(said["records"]),
            originals=tuple(_member(member) for member in said["originals"]),
            missing=tuple(_text(sha256) for sha256 in said["missing"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DamagedBackupError("the list of what it holds makes no sense") from error


def _member(said: dict[str, Any]) -> Member:
    if not _HASH.fullmatch(_text(said["sha256"])):
        raise ValueError("not a hash")
    return Member(_text(said["name"]), said["sha256"], _whole(said["bytes"]))


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("not a text")
    return value


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise TypeError("not a count")
    return value
