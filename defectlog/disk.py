"""Bytes and names that outlive a power cut: both are lost unless they are flushed."""

import os
from pathlib import Path


def flush_file(number: int) -> None:
    """Flush an open file to the disk itself; macOS has its own call for that."""
    try:
        import fcntl

        fcntl.fcntl(number, fcntl.F_FULLFSYNC)
    except (ImportError, AttributeError, OSError):
        os.fsync(number)


def flush_folder(folder: Path) -> None:
    """Flush a folder, so that a new name in it outlives a power cut. Windows has no such call."""
    if os.name == "nt":
        return
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
