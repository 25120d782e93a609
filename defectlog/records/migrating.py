"""Bring the tables of a database to what this version expects, keeping what is in them."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

from defectlog.errors import DefectlogError

_SCRIPTS = Path(__file__).with_name("migrations")


class NewerRecordsError(DefectlogError):
    """The records were written by a later version than this one."""

    def __init__(self, revision: str) -> None:
        super().__init__(
            f"These records are from a newer defectlog (step {revision})",
            "install that version or a later one; nothing was changed",
        )


def migrate(engine: Engine, *, step: str = "head") -> None:
    """Upgrade the schema to the newest step, or to an earlier one.

    Raises
    ------
    NewerRecordsError
        If the database stands at a step this version does not know.
    """
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS))
    script = ScriptDirectory.from_config(config)
    with engine.begin() as connection:
        found = MigrationContext.configure(connection).get_current_revision()
        if found == script.get_current_head():
            return
        if found is not None and found not in {s.revision for s in script.walk_revisions()}:
            raise NewerRecordsError(found)
        config.attributes["connection"] = connection
        command.upgrade(config, step)
