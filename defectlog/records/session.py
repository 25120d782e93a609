"""The engine: SQLite set so that what was saved stays saved, or PostgreSQL by its address."""

import json
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.orm import ORMExecuteState, Session, sessionmaker, with_loader_criteria
from sqlalchemy.pool import ConnectionPoolEntry

from defectlog.records.builds import Build

_BUSY_MS = 5000

# Execution option of a query that is to find builds in the bin too.
WITH_BIN = {"with_bin": True}


def sqlite_address(file: Path) -> str:
    """The database address of an SQLite file."""
    return f"sqlite:///{file}"


def open_engine(address: str) -> Engine:
    """Open the records at a database address (SQLite or PostgreSQL).

    On SQLite every connection keeps foreign keys, waits for its turn, and syncs so that a commit
    survives power loss.
    """
    # Stored texts keep °C and – readable for whoever opens the file with other tools.
    engine = create_engine(address, json_serializer=_json)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin)
    return engine


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def wal_is_safe(version: tuple[int, int, int]) -> bool:
    """Whether the write-ahead log can be trusted in this SQLite.

    Up to 3.51.2 a log reset can corrupt a database that several connections write (fixed in
    3.51.3, and in 3.50.7 and 3.44.6 of the older lines; 3.52.0 was withdrawn). See "The WAL reset
    bug", sqlite.org/wal.html.
    """
    if version[:2] == (3, 44):
        return version >= (3, 44, 6)
    if version[:2] == (3, 50):
        return version >= (3, 50, 7)
    return version >= (3, 51, 3) and version != (3, 52, 0)


def _set_up_sqlite(connection: DBAPIConnection, _entry: ConnectionPoolEntry) -> None:
    # The driver's own BEGIN comes too late to lock out a second writer: SQLAlchemy sends it.
    connection.isolation_level = None  # type: ignore[attr-defined]
    wal = wal_is_safe(sqlite3.sqlite_version_info)
    cursor = connection.cursor()
    for setting in (
        "foreign_keys=ON",
        f"busy_timeout={_BUSY_MS}",
        "trusted_schema=OFF",
        f"journal_mode={'WAL' if wal else 'DELETE'}",
        # In DELETE mode only EXTRA syncs the folder after the journal is removed.
        f"synchronous={'FULL' if wal else 'EXTRA'}",
    ):
        try:
            cursor.execute(f"PRAGMA {setting}")
        except UnicodeDecodeError as error:
            # What SQLite says of a damaged schema quotes it, and that may be no text.
            raise sqlite3.DatabaseError(f"malformed database schema ({error})") from error
    cursor.close()


def _begin(connection: Connection) -> None:
    # A writer takes its lock at once: a read that turns into a write fails without waiting.
    asked = connection.get_execution_options()
    if asked.get("writes", True):
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    elif asked.get("holds", True) or wal_is_safe(sqlite3.sqlite_version_info):
        connection.exec_driver_sql("BEGIN")


def _leave_the_bin_alone(asked: ORMExecuteState) -> None:
    """A build in the bin is found by nobody who did not ask for it."""
    if asked.is_select and not asked.is_column_load and "with_bin" not in asked.execution_options:
        kept = with_loader_criteria(Build, Build.deleted_at.is_(None), include_aliases=True)
        asked.statement = asked.statement.options(kept)


class Records:
    """The ways to the records: ``writing`` takes the lock at once, ``reading`` never waits.

    ``looking`` is for reads that may take long, a request say. Without a write-ahead log a reader
    keeps every writer from committing for as long as its transaction is open, and writers give up
    after five seconds: so there each query stands for itself, and a commit may come between two.
    """

    def __init__(self, address: str) -> None:
        self.engine = open_engine(address)
        # What was just saved may still be spoken of after the commit.
        self.writing = sessionmaker(self.engine, expire_on_commit=False)
        self.reading = sessionmaker(self.engine.execution_options(writes=False))
        self.looking = sessionmaker(self.engine.execution_options(writes=False, holds=False))
        for sessions in (self.writing, self.reading, self.looking):
            event.listen(sessions, "do_orm_execute", _leave_the_bin_alone)

    def write(self) -> Session:
        """A session for changes; use as a context manager through ``begin()`` or commit it."""
        return self.writing()

    def read(self) -> Session:
        """A session for looking things up."""
        return self.reading()

    def look(self) -> Session:
        """A session for looking things up that holds up no writer, however long it is open."""
        return self.looking()

    def open_anew(self) -> None:
        """Let go of idle connections: one opened while the disk was read-only would stay so."""
        self.engine.dispose()

    def close(self) -> None:
        self.engine.dispose()
