"""The schema: made by migrations alone, the same as the models on every database."""

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from defectlog.records import Record, migrating
from defectlog.records.migrating import NewerRecordsError, migrate
from defectlog.records.session import Records


def test_migrations_make_exactly_the_tables_of_the_models(empty_records: Records) -> None:
    migrate(empty_records.engine)

    with empty_records.engine.begin() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Record.metadata) == []


def test_migrating_twice_changes_nothing(empty_records: Records) -> None:
    migrate(empty_records.engine)
    migrate(empty_records.engine)

    assert "build_fact" in inspect(empty_records.engine).get_table_names()


def test_records_of_a_later_version_are_left_alone(empty_records: Records) -> None:
    migrate(empty_records.engine)
    with empty_records.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))

    with pytest.raises(NewerRecordsError, match="newer defectlog"):
        migrate(empty_records.engine)


def test_the_steps_lead_to_one_end() -> None:
    steps = ScriptDirectory(str(Path(migrating.__file__).with_name("migrations")))

    assert len(steps.get_heads()) == 1
