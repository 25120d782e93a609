"""Whether defectlog runs on a folder of records: then nothing may be put in their place."""

from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from defectlog.errors import DefectlogError
from defectlog.photos.turns import took

_LOCK = "in-use.lock"


class InUseError(DefectlogError):
    """The records are worked with, by a process that would go on writing into the old ones."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"defectlog runs on the records in {folder}",
            "stop it first, with Ctrl+C where it was started; nothing was changed",
        )


def use(folder: Path) -> BinaryIO | None:
    """Say that one works with the records, for as long as what comes back is open.

    The system lets go of it when the process ends, however it ends. None where the disk cannot
    lock files: then nobody can be warned.
    """
    lock = folder / _LOCK
    lock.touch(0o600)
    # Only for reading: a disk can still be turned read-only meanwhile.
    file = lock.open("rb", buffering=0)
    with suppress(OSError):
        took(file.fileno(), shared=True)
        return file
    file.close()
    return None


def see_that_nobody_uses(folder: Path) -> None:
    """Refuse if a process works with the records in a folder.

    Raises
    ------
    InUseError
    """
    lock = folder / _LOCK
    if not lock.exists():
        return
    with lock.open("r+b") as file:
        try:
            is_free = took(file.fileno())
        except OSError:  # a disk that cannot lock
            return
    if not is_free:
        raise InUseError(folder)
