"""Before an upgrade the records are copied, and the copy opens."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import inspect

from defectlog.records import migrating
from defectlog.records.migrating import (
    NoCopyError,
    copies_of,
    migrate,
    step_of,
)
from defectlog.records.session import Records, sqlite_address
from tests.records.every_row import fill, rows_of


def test_an_upgrade_keeps_a_copy_that_opens_of_a_file_and_of_a_server(
    empty_records: Records, tmp_path: Path
) -> None:
    file = tmp_path / "records.sqlite"
    migrate(empty_records.engine, step="0003")
    fill(empty_records)
    before = rows_of(empty_records)

    migrate(empty_records.engine, copy_beside=file)

    (copy,) = copies_of(file)
    assert "from-0003" in copy.name
    kept = Records(sqlite_address(copy))
    assert alike(rows_of(kept)) == alike(before)
    assert step_of(kept.engine) == "0003"
    kept.close()
    assert not list(tmp_path.glob("*.part*"))


def alike(rows: dict[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    """Moments without their zone, as SQLite gives them."""
    return {
        name: [
            {
                key: value.astimezone(UTC).replace(tzinfo=None)
                if isinstance(value, datetime) and value.tzinfo
                else value
                for key, value in row.items()
            }
            for row in table
        ]
        for name, table in rows.items()
    }


def test_new_records_and_records_up_to_date_are_not_copied(tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite"
    records = Records(sqlite_address(file))
    migrate(records.engine)
    migrate(records.engine)
    records.close()

    assert copies_of(file) == []


def test_only_the_last_few_copies_are_kept(tmp_path: Path, monkeypatch) -> None:
    file = tmp_path / "records.sqlite"
    for number in range(migrating.COPIES_KEPT + 2):
        (tmp_path / f"records-before-x-{number}.sqlite").write_bytes(b"")
    records = Records(sqlite_address(file))
    migrate(records.engine, step="0001")
    migrate(records.engine)
    records.close()

    assert len(copies_of(file)) == migrating.COPIES_KEPT
    assert any("from-0001" in copy.name for copy in copies_of(file))


def test_without_room_for_the_copy_nothing_is_changed(tmp_path: Path, monkeypatch) -> None:
    records = Records(sqlite_address(tmp_path / "records.sqlite"))
    migrate(records.engine, step="0003")

    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    # The disk itself cannot be filled here; what it would say is said in its place.
    monkeypatch.setattr(migrating, "copy_sqlite", no_room)
    with pytest.raises(NoCopyError, match="nothing was changed"):
        migrate(records.engine)

    assert migrating.step_of(records.engine) == "0003"
    assert "decision" not in inspect(records.engine).get_table_names()
