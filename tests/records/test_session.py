"""SQLite set so that what was saved stays saved, and so that writers wait their turn."""

import sqlite3
import threading
import time
from pathlib import Path

import pytest
from sqlalchemy import text

from defectlog.records import Part
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address, wal_is_safe


@pytest.mark.parametrize(
    ("version", "safe"),
    # Bounds as sqlite.org/wal.html gives them for the WAL reset bug; 3.52.0 was withdrawn.
    [
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 52, 0), False),
        ((3, 53, 0), True),
    ],
)
def test_the_write_ahead_log_is_used_only_where_it_cannot_corrupt(
    version: tuple[int, int, int], safe: bool
) -> None:
    assert wal_is_safe(version) is safe


def test_every_connection_is_set_for_durability(records: Records) -> None:
    wal = wal_is_safe(sqlite3.sqlite_version_info)
    with records.engine.connect() as connection:
        asked = {
            name: connection.execute(text(f"PRAGMA {name}")).scalar_one()
            for name in ("foreign_keys", "busy_timeout", "journal_mode", "synchronous")
        }
    assert asked == {
        "foreign_keys": 1,
        "busy_timeout": 5000,
        "journal_mode": "wal" if wal else "delete",
        "synchronous": 2 if wal else 3,  # FULL, EXTRA
    }


def test_a_second_writer_waits_for_the_first(records: Records) -> None:
    first = records.write()
    first.add(Part(name="Locker door"))
    first.flush()
    done = []

    def second() -> None:
        with records.write() as session, session.begin():
            session.add(Part(name="Bow bulkhead"))
        done.append("second")

    waiting = threading.Thread(target=second)
    waiting.start()
    time.sleep(0.2)
    assert done == []
    first.commit()
    first.close()
    waiting.join(5)

    assert done == ["second"]
    with records.read() as session:
        assert session.query(Part).count() == 2


def test_a_long_look_keeps_nobody_from_saving(tmp_path: Path) -> None:
    kept = Records(sqlite_address(tmp_path / "records.sqlite"))
    migrate(kept.engine)
    with kept.write() as session, session.begin():
        session.add(Part(name="Locker door"))

    with kept.look() as looking:
        assert looking.query(Part).count() == 1
        # The look is still open, as while a photo is read or a page drawn.
        with kept.write() as session, session.begin():
            session.add(Part(name="Bow bulkhead"))
        assert looking.query(Part).count() == 2
    kept.close()
