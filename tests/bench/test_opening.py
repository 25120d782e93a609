"""Starting on a folder that cannot be used is one sentence; limits are settings with bounds."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from defectlog.bench.opening import CannotStartError, open_for_work
from defectlog.errors import FieldError
from defectlog.photos.limits import MEGAPIXELS, MIB, PhotoLimits
from defectlog.photos.originals import DEFAULT_MAX_BYTES
from tests.faults.disks import small_disk


def test_the_usual_limits_are_64_mib_and_64_megapixels() -> None:
    assert PhotoLimits.of({}) == PhotoLimits(64 * 2**20, 64_000_000)
    assert DEFAULT_MAX_BYTES == 64 * 2**20


def test_limits_are_settings_up_to_200_megapixels() -> None:
    assert PhotoLimits.of({MEGAPIXELS: "200", MIB: "128"}) == PhotoLimits(2**27, 200_000_000)
    for bad in ("201", "0", "-1", "12.5", "many", "²"):
        with pytest.raises(FieldError, match="from 1 to 200"):
            PhotoLimits.of({MEGAPIXELS: bad})


def test_a_setting_reaches_the_photo_store(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv(MEGAPIXELS, "100")
    kept = open_for_work(tmp_path / "w")
    kept.records.close()
    assert kept.store.max_px == 100_000_000


def test_a_folder_that_is_a_file_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "w").write_text("")
    with pytest.raises(CannotStartError, match="name another one"):
        open_for_work(tmp_path / "w")


def test_records_that_are_no_database_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "records.sqlite").write_bytes(b"something else " * 100)
    with pytest.raises(CannotStartError, match="restore"):
        open_for_work(tmp_path)
    assert (tmp_path / "records.sqlite").read_bytes() == b"something else " * 100


def test_a_start_on_a_read_only_disk_is_one_sentence_and_status_2(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", megabytes=8) as disk:
        disk.read_only()
        done = subprocess.run(
            [sys.executable, "-m", "defectlog", "serve", "--no-open", "--port", "8977"]
            + ["--folder", str(disk.path / "w")],
            capture_output=True,
            text=True,
            timeout=60,
            env=os.environ,
        )
    assert done.returncode == 2
    assert "read-only" in done.stderr and "Traceback" not in done.stderr
    assert done.stderr.strip().count("\n") == 0


def test_a_server_that_does_not_answer_is_said_with_what_to_check(tmp_path: Path) -> None:
    pytest.importorskip("psycopg")
    # Port 1 is reserved (tcpmux), nobody listens there.
    address = "postgresql+psycopg://nobody@127.0.0.1:1/nothing"

    with pytest.raises(CannotStartError, match="database .* cannot be reached.*that its server"):
        open_for_work(tmp_path / "workshop", address)
