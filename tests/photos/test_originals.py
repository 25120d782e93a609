"""Originals stay as they came, and a file is on the disk for good before anything refers to it."""

import errno
import hashlib
import io
import os
import shutil
import stat
import time
from types import SimpleNamespace

import pytest
from PIL import Image

from defectlog.photos.originals import Originals, storage_faults
from defectlog.photos.refusals import (
    EmptyFileError,
    ForeignFileError,
    MissingOriginalError,
    StorageFaultError,
    TooLargeError,
)


def jpeg(shade: int = 120) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (40, 30), (shade, shade, shade)).save(file, "JPEG", comment=b"kept as it came")
    return file.getvalue()


def keep(originals: Originals, data: bytes) -> str:
    with originals.receive(io.BytesIO(data)) as incoming:
        originals.keep(incoming)
    return incoming.sha256


def files(folder) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_an_original_lies_under_the_hash_of_its_bytes(tmp_path):
    data = jpeg()
    digest = hashlib.sha256(data).hexdigest()

    assert keep(Originals(tmp_path), data) == digest

    assert files(tmp_path) == [f"{digest[:2]}/{digest}.jpg"]
    assert (tmp_path / digest[:2] / f"{digest}.jpg").read_bytes() == data
    assert Originals(tmp_path).read(digest) == data


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way")
def test_an_original_is_for_its_owner_alone(tmp_path):
    originals = Originals(tmp_path / "photos")

    path = originals.path(keep(originals, jpeg()))

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_the_same_bytes_twice_are_one_file(tmp_path):
    originals = Originals(tmp_path)
    digest = keep(originals, jpeg())
    before = originals.path(digest).stat()

    assert keep(originals, jpeg()) == digest

    assert len(files(tmp_path)) == 1
    assert originals.path(digest).stat().st_ino == before.st_ino


def test_a_damaged_original_is_seen_and_healed_by_the_same_photo(tmp_path):
    originals = Originals(tmp_path)
    data = jpeg()
    digest = keep(originals, data)
    path = originals.path(digest)
    path.write_bytes(data[:-10] + bytes(10))
    assert not originals.is_sound(digest)

    keep(originals, data)

    assert originals.is_sound(digest)


def test_a_file_that_is_not_kept_leaves_nothing(tmp_path):
    originals = Originals(tmp_path)

    with originals.receive(io.BytesIO(jpeg())) as incoming:
        assert incoming.path.is_file()

    assert files(tmp_path) == []
    assert not originals.exists(incoming.sha256)


class Sputtering(io.RawIOBase):
    """A source that hands out seven bytes at a time, as a slow line may."""

    def __init__(self, data: bytes) -> None:
        self._inner = io.BytesIO(data)

    def read(self, size: int = -1) -> bytes:
        return self._inner.read(min(size, 7))


def test_a_source_that_comes_in_dribs_is_received_whole(tmp_path):
    data = jpeg()

    with Originals(tmp_path).receive(Sputtering(data)) as incoming:
        assert incoming.size == len(data)
        assert incoming.sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize(
    ("data", "refusal"),
    [
        (b"", EmptyFileError),
        (b"only text", ForeignFileError),
        (b"\xff\xd8\xff" + bytes(5000), TooLargeError),
    ],
)
def test_a_refused_file_leaves_nothing(tmp_path, data, refusal):
    originals = Originals(tmp_path, max_bytes=5000)

    with pytest.raises(refusal), originals.receive(io.BytesIO(data)):
        pass

    assert files(tmp_path) == []


def test_a_file_of_just_the_limit_is_taken(tmp_path):
    data = b"\xff\xd8\xff" + bytes(4997)

    with Originals(tmp_path, max_bytes=5000).receive(io.BytesIO(data)) as incoming:
        assert incoming.size == 5000


def test_what_a_crash_left_half_written_is_cleared_only_when_old(tmp_path):
    originals = Originals(tmp_path)
    arriving = tmp_path / "arriving"
    arriving.mkdir()
    (arriving / "new.part").write_bytes(b"still arriving")
    old = arriving / "old.part"
    old.write_bytes(b"left by a power cut")
    os.utime(old, (0, time.time() - 90_000))

    assert originals.remove_unfinished() == 1

    assert files(tmp_path) == ["arriving/new.part"]


def test_a_missing_original_says_so(tmp_path):
    with pytest.raises(MissingOriginalError, match="backup"):
        Originals(tmp_path).path("ab" * 32)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EROFS, "read-only"),
        (errno.EACCES, "may use the folder"),
        (errno.EIO, "check the disk"),
    ],
)
def test_what_the_disk_refuses_is_said_in_words(number, words):
    with pytest.raises(StorageFaultError) as fault, storage_faults("written"):
        raise OSError(number, os.strerror(number))

    assert words in str(fault.value)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs Linux' device that is full")
def test_a_disk_that_is_full_is_a_fault_and_not_a_photo(tmp_path):
    # Writing to this device fails as writing to a full disk does.
    with (
        open("/dev/full", "wb", buffering=0) as full,
        pytest.raises(StorageFaultError, match="full"),
        storage_faults("written"),
    ):
        full.write(jpeg())


def test_a_folder_that_is_a_file_is_a_fault(tmp_path):
    (tmp_path / "photos").write_text("in the way")

    with pytest.raises(StorageFaultError):
        keep(Originals(tmp_path / "photos"), jpeg())


def test_a_file_is_synced_before_it_gets_its_name_and_the_folder_after(tmp_path, monkeypatch):
    # The real calls are made; only their order is written down.
    order = []
    sync, replace = os.fsync, os.replace

    def noting_sync(number: int) -> None:
        is_folder = stat.S_ISDIR(os.fstat(number).st_mode)
        order.append("sync folder" if is_folder else "sync file")
        sync(number)

    def noting_replace(source, target) -> None:
        order.append("name")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", noting_sync)
    monkeypatch.setattr(os, "replace", noting_replace)
    keep(Originals(tmp_path), jpeg())

    # The first sync of a folder is that of the new folder's parent.
    assert order == ["sync file", "sync folder", "name", "sync folder"]


@pytest.mark.parametrize(
    ("total_mb", "free_mb", "is_taken"),
    # A twentieth of a small disk is left to the records, and no more than 500 MB of a large one.
    [(10**6, 499, False), (10**6, 501, True), (100, 4, False), (100, 6, True)],
)
def test_a_disk_that_is_nearly_full_takes_no_photo_and_leaves_room_for_the_records(
    tmp_path, monkeypatch, total_mb, free_mb, is_taken
):
    usage = SimpleNamespace(total=total_mb * 10**6, free=free_mb * 10**6)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: usage)
    originals = Originals(tmp_path)

    if is_taken:
        assert originals.exists(keep(originals, jpeg()))
    else:
        with pytest.raises(StorageFaultError, match=f"{free_mb} MB are left.*free some room"):
            keep(originals, jpeg())
        assert files(tmp_path) == []
