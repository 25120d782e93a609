"""All rows from one database into another of the same step: SQLite to PostgreSQL and back."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, Connection, DateTime, MetaData, Table, func, inspect, select, text

_AT_ONCE = 500
_STEP_TABLE = "alembic_version"


def copy_rows(source: Connection, target: Connection) -> dict[str, int]:
    """Copy every row of every table; the target's tables exist and are empty.

    Returns how many rows each table has. Whatever the database, the rows are the same: moments in
    UTC, JSON as JSON, numbers to the last bit.
    """
    read, written = _tables(source), _tables(target)
    counts = {}
    for table in read.sorted_tables:
        if table.name == _STEP_TABLE:
            continue
        into = written.tables[table.name]
        counts[table.name] = 0
        for rows in _in_batches(source, table, target.dialect.name):
            target.execute(into.insert(), rows)
            counts[table.name] += len(rows)
        _go_on_counting(target, into)
    return counts


def count_rows(connection: Connection) -> dict[str, int]:
    """How many rows each table has."""
    return {
        table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
        for table in _tables(connection).sorted_tables
        if table.name != _STEP_TABLE
    }


def _tables(connection: Connection) -> MetaData:
    tables = MetaData()
    tables.reflect(connection)
    for table in tables.tables.values():
        for column in table.columns:
            # Nothing stays nothing, and does not become the word null in JSON.
            if isinstance(column.type, JSON) and column.nullable:
                column.type = JSON(none_as_null=True)
    return tables


def _in_batches(source: Connection, table: Table, dialect: str) -> Iterator[list[dict[str, Any]]]:
    keys = list(table.primary_key.columns)
    moments = {c.name for c in table.columns if isinstance(c.type, DateTime)}
    result = source.execute(select(table).order_by(*keys)).mappings()
    while batch := result.fetchmany(_AT_ONCE):
        yield [
            {
                name: _moment(value, dialect) if name in moments else value
                for name, value in row.items()
            }
            for row in batch
        ]


def _moment(value: datetime | None, dialect: str) -> datetime | None:
    """SQLite keeps moments as text without their zone, in UTC."""
    if value is None:
        return None
    aware = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return aware.replace(tzinfo=None) if dialect == "sqlite" else aware


def _go_on_counting(target: Connection, table: Table) -> None:
    """PostgreSQL numbers rows by a counter of its own, which knows nothing of rows copied in."""
    if target.dialect.name != "postgresql" or "id" not in table.columns:
        return
    counter = target.execute(
        text("SELECT pg_get_serial_sequence(:table, 'id')"), {"table": table.name}
    ).scalar()
    highest = target.execute(select(func.max(table.c.id))).scalar()
    if counter and highest:
        target.execute(text("SELECT setval(:counter, :at)"), {"counter": counter, "at": highest})


def is_empty(connection: Connection) -> bool:
    """Whether a database holds no tables yet."""
    return not inspect(connection).get_table_names()
