"""What lies in the folder of the photos: originals, and what is neither original nor copy."""

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from defectlog.photos.originals import storage_faults
from defectlog.photos.sniff import FORMATS

_ORIGINAL = re.compile(r"(?P<sha256>[0-9a-f]{64})\.(?P<ending>[a-z]+)")
_COPY = re.compile(r"[0-9a-f]{64}-(?:[a-z]+\.jpg|tiles\.zip)")
_ENDINGS = frozenset(kind.extension for kind in FORMATS)
_CHUNK = 2**20

ARRIVING = "arriving"
SET_ASIDE = "set-aside"


@dataclass(frozen=True, slots=True)
class Inventory:
    """The originals by the SHA-256 they are named for, and files that are none of ours."""

    originals: dict[str, Path]
    foreign: tuple[Path, ...]


def take_inventory(folder: Path) -> Inventory:
    """List a folder of photos without reading any. Files still arriving are left out."""
    originals: dict[str, Path] = {}
    foreign: list[Path] = []
    with storage_faults("read"):
        for file in sorted(folder.rglob("*")) if folder.is_dir() else ():
            top = file.relative_to(folder).parts[0]
            if not file.is_file() or top in (ARRIVING, SET_ASIDE):
                continue
            named = _ORIGINAL.fullmatch(file.name)
            in_place = file.parent == folder / file.name[:2]
            is_copy = _COPY.fullmatch(file.name) or file.suffix == ".part"
            if in_place and named and named["ending"] in _ENDINGS:
                if named["sha256"] in originals:
                    foreign.append(file)
                else:
                    originals[named["sha256"]] = file
            elif not (in_place and is_copy):
                foreign.append(file)
    return Inventory(originals, tuple(foreign))


def hash_file(file: Path) -> tuple[str, int]:
    """The SHA-256 of a file, and how many bytes it has."""
    digest, size = hashlib.sha256(), 0
    with storage_faults("read"), file.open("rb") as source:
        while chunk := source.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
    return digest.hexdigest(), size
