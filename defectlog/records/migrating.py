"""Bring the tables of a database to what this version expects, keeping what is in them."""

import logging
import os
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, text
from sqlalchemy.exc import DatabaseError

from defectlog.disk import flush_file, flush_folder
from defectlog.errors import DefectlogError
from defectlog.records.copying import copy_rows
from defectlog.records.guards import lift_guards, set_guards
from defectlog.records.session import Records, sqlite_address

log = logging.getLogger("defectlog")

COPIES_KEPT = 3

_SCRIPTS = Path(__file__).with_name("migrations")


class NewerRecordsError(DefectlogError):
    """The records were written by a later version than this one."""

    def __init__(self, revision: str) -> None:
        super().__init__(
            f"These records are from a newer defectlog (step {revision})",
            "install that version or a later one; nothing was changed",
        )


class NoCopyError(DefectlogError):
    """The records could not be copied before bringing them up to date, so they were left alone."""

    def __init__(self, file: Path, reason: str) -> None:
        super().__init__(
            f"The records were not brought up to date: no copy could be put at {file} ({reason})",
            "free some room or make the folder writable, then start again; nothing was changed",
        )


def migrate(
    engine: Engine,
    *,
    step: str = "head",
    keeps_copy: bool = True,
    copy_beside: Path | None = None,
) -> None:
    """Upgrade the schema to the newest step, or to an earlier one.

    Records that are to be changed are copied first: an SQLite file beside itself, those of a server
    as an SQLite file beside ``copy_beside``, where nothing needs to be. The steps are one
    transaction: all of them are done, or none.

    Raises
    ------
    NewerRecordsError
        If the database stands at a step this version does not know.
    NoCopyError
        If there is no room for the copy.
    """
    script = _steps()
    found = step_of(engine)
    if found == script.get_current_head():
        with engine.begin() as connection:
            set_guards(connection)
        return
    if found is not None and found not in known_steps():
        raise NewerRecordsError(found)
    if found is not None:
        log.info("Bringing the records from step %s to %s", found, script.get_current_head())
        if keeps_copy:
            _copy_before(engine, found, copy_beside)
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS))
    with engine.begin() as connection:
        lift_guards(connection)
        config.attributes["connection"] = connection
        command.upgrade(config, step)
        if step in ("head", script.get_current_head()):
            set_guards(connection)


def step_of(engine: Engine) -> str | None:
    """The step of the schema a database stands at; None for one without tables."""
    with engine.execution_options(writes=False).connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def newest_step() -> str:
    """The step this version works with."""
    head = _steps().get_current_head()
    assert head is not None
    return head


def known_steps() -> set[str]:
    """All steps this version knows the way from."""
    return {step.revision for step in _steps().walk_revisions()}


def _steps() -> ScriptDirectory:
    return ScriptDirectory(str(_SCRIPTS))


def copies_of(file: Path) -> list[Path]:
    """The copies made before upgrades that lie beside a database, oldest first."""
    return sorted(
        file.parent.glob(f"{file.stem}-before-*{file.suffix}"), key=lambda f: f.stat().st_mtime_ns
    )


def _copy_before(engine: Engine, found: str, beside: Path | None) -> None:
    """Copy the records as one SQLite file, and let go of the oldest such copies."""
    is_file = engine.dialect.name == "sqlite" and engine.url.database not in (None, "", ":memory:")
    file = Path(str(engine.url.database)) if is_file else beside
    if file is None:
        log.warning(
            "These records are not copied before they are brought up to date, there is no folder "
            "to put them in: their server's own backups are what you go back to."
        )
        return
    stamp = f"{datetime.now(UTC):%Y%m%dT%H%M%S}"
    copy = file.with_name(f"{file.stem}-before-{newest_step()}-from-{found}-{stamp}{file.suffix}")
    passing = copy.with_suffix(".part")
    try:
        if is_file:
            copy_sqlite(file, passing)
        else:
            copy_from_server(engine, passing, found)
        os.replace(passing, copy)
        flush_folder(copy.parent)
    except (OSError, sqlite3.Error, DatabaseError) as error:
        with suppress(OSError):
            passing.unlink()
        raise NoCopyError(copy, str(error)) from error
    log.info("The records as they were are kept in %s", copy)
    for old in copies_of(file)[:-COPIES_KEPT]:
        old.unlink(missing_ok=True)


def copy_from_server(engine: Engine, target: Path, step: str) -> None:
    """Copy the rows of a server's database, read at one moment, as an SQLite file of that step."""
    target.unlink(missing_ok=True)
    os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    copy = Records(sqlite_address(target))
    try:
        migrate(copy.engine, step=step)
        at_one_moment = engine.execution_options(isolation_level="REPEATABLE READ")
        with at_one_moment.connect() as source, copy.engine.begin() as written:
            source.execute(text("SET TRANSACTION READ ONLY"))
            copy_rows(source, written)
    finally:
        copy.close()
    with closing(sqlite3.connect(target)) as one:
        # One file, whatever journal it was written with: a copy is moved about alone.
        one.execute("PRAGMA journal_mode=DELETE")
    with target.open("rb+") as file:
        flush_file(file.fileno())


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy a live SQLite database as one consistent file, flushed to the disk.

    The file alone must never be copied: part of what was saved may lie in its journal.
    """
    target.unlink(missing_ok=True)
    os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    with (
        closing(sqlite3.connect(source, timeout=30)) as read,
        closing(sqlite3.connect(target)) as written,
    ):
        # All pages in one go: a writer meanwhile would make it start anew.
        read.backup(written, pages=-1)
        # One file, whatever journal the source has: a copy is moved about alone.
        written.execute("PRAGMA journal_mode=DELETE")
    with target.open("rb+") as file:
        flush_file(file.fileno())
