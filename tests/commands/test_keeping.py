"""The commands that keep the records: exit statuses, one sentence for a user's error, JSON."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from defectlog.bench.upkeep import Kept
from defectlog.cli import cli
from tests.workshops import make_workshop


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    made = make_workshop(tmp_path / "workshop", photos=2)
    yield made
    made.records.close()


def test_verify_ends_with_0_when_all_is_well_and_with_1_when_it_is_not(kept: Kept) -> None:
    well = run("verify", "--folder", kept.folder)
    assert (well.exit_code, well.stderr) == (0, "") and well.stdout.startswith("All is well")

    kept.store.originals.remove(next(kept.store.originals.kept()))

    found = run("verify", "--folder", kept.folder, "--json")
    assert found.exit_code == 1
    said = json.loads(found.stdout)
    assert said["ok"] is False and [f["about"] for f in said["faults"]] == ["missing-file"]


@pytest.mark.parametrize("command", [("verify",), ("backup", "-o", "x.zip")])
def test_a_folder_without_records_is_a_users_error_and_stays_empty(tmp_path, command) -> None:
    result = run(*command, "--folder", tmp_path)

    assert result.exit_code == 2 and result.stderr.startswith("defectlog: There are no records")
    assert list(tmp_path.iterdir()) == []


def test_backup_and_restore_go_round(kept: Kept, tmp_path: Path) -> None:
    place = tmp_path / "stick.zip"
    made = run("backup", "--folder", kept.folder, "-o", place)
    assert made.exit_code == 0, made.stderr

    assert run("restore", place, "--check").exit_code == 0
    back = run("restore", place, "--folder", tmp_path / "back")
    assert back.exit_code == 0, back.stderr
    assert run("verify", "--folder", tmp_path / "back").exit_code == 0

    again = run("restore", place, "--folder", tmp_path / "back")
    assert again.exit_code == 2 and "--replace" in again.stderr
    assert "Traceback" not in again.stderr
    replaced = run("restore", place, "--folder", tmp_path / "back", "--replace")
    assert replaced.exit_code == 0 and "kept in" in replaced.stdout


def test_what_is_no_backup_is_a_users_error(tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"PK nothing of the kind")

    for file in (tmp_path / "x.zip", tmp_path / "not there.zip"):
        result = run("restore", file, "--folder", tmp_path / "back")
        assert result.exit_code == 2 and result.stderr.count("\n") == 1
    assert not (tmp_path / "back").exists()


def test_verify_waits_for_no_lock_and_takes_none(kept: Kept) -> None:
    with closing(sqlite3.connect(kept.folder / "records.sqlite", isolation_level=None)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        assert run("verify", "--folder", kept.folder).exit_code == 0
