"""What is on record the database itself refuses to rewrite."""

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from defectlog.records.guards import GUARDS
from defectlog.records.migrating import (
    migrate,
    newest_step,
)
from defectlog.records.session import Records
from tests.records.every_row import fill

REWRITES = (
    "UPDATE measurement SET void_fraction = 0.015",
    "DELETE FROM measurement",
    "UPDATE photo_scale SET px_per_mm = 3",
    "DELETE FROM photo_scale WHERE id = 4",
    "UPDATE decision SET reason = 'other'",
    "DELETE FROM decision",
    "UPDATE finding SET outcome = 'scrap'",
    "UPDATE finding SET reason = 'other'",
    "UPDATE finding SET kind = 'pinholes-tool'",
    "UPDATE finding SET note = 'high corner'",
    "UPDATE finding SET note = ''",
    "UPDATE finding SET deleted_at = closed_at",
    "DELETE FROM finding",
    "DELETE FROM photo",
)


def test_the_database_itself_refuses_to_rewrite_a_record(empty_records: Records) -> None:
    migrate(empty_records.engine, step=newest_step())
    fill(empty_records)

    for statement in REWRITES:
        with pytest.raises(IntegrityError), empty_records.engine.begin() as connection:
            connection.execute(text(statement))
    for statement in (
        "UPDATE finding SET note = 'low corner, and the edge'",
        "UPDATE finding SET outcome = 'open', closed_at = NULL",
        "UPDATE finding SET note = 'high corner', kind = 'pinholes-tool'",
    ):
        with empty_records.engine.begin() as connection:
            connection.execute(text(statement))
    assert len(GUARDS) == 9
