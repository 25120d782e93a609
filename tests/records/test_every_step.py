"""From every released step of the schema the records come up to date with every row as it was."""

import pytest
from sqlalchemy import text

from defectlog.records import migrating
from defectlog.records.guards import missing_guards
from defectlog.records.migrating import (
    known_steps,
    migrate,
)
from defectlog.records.session import Records
from tests.records.every_row import fill, rows_of

STEPS = sorted(known_steps())


@pytest.mark.parametrize("step", STEPS)
def test_every_row_of_every_step_is_kept_as_it_was(empty_records: Records, step: str) -> None:
    migrate(empty_records.engine, step=step)
    fill(empty_records)
    before = rows_of(empty_records)
    assert [name for name, rows in before.items() if not rows] == [], "a table without a row"

    migrate(empty_records.engine)

    after = rows_of(empty_records)
    for name, rows in before.items():
        # A new column stands beside; none that was there says anything else.
        assert [{key: row[key] for key in rows[0]} for row in after[name]] == rows, name
    # What was decided before decisions were kept is on record as one.
    assert [(d["finding_id"], d["reason"]) for d in after["decision"]] == [(3, "sanded")]
    with empty_records.engine.connect() as connection:
        assert missing_guards(connection) == set()


def test_a_step_that_fails_leaves_the_records_at_the_step_before(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0004")
    fill(empty_records)
    before = rows_of(empty_records)
    with empty_records.engine.begin() as connection:
        # The next step makes a table of this name, so it will fail half way.
        connection.execute(text("CREATE TABLE passphrase (id INTEGER)"))

    with pytest.raises(Exception, match="passphrase"):
        migrate(empty_records.engine)

    assert migrating.step_of(empty_records.engine) == "0004"
    after = rows_of(empty_records)
    assert {name: after[name] for name in before} == before
