"""Rules the database itself keeps: what is on record is added to, never rewritten.

They are triggers, so that they hold for any program that opens the database. Steps of the schema
may rebuild tables, so they are lifted before a step and set anew after it.
"""

from dataclasses import dataclass

from sqlalchemy import Connection, text

_PREFIX = "keep_"


@dataclass(frozen=True, slots=True)
class Guard:
    """One rule: which table and deed it watches, when it refuses, and what it says then."""

    name: str
    table: str
    deed: str  # UPDATE or DELETE
    when: str  # in both dialects; IS DISTINCT FROM becomes IS NOT in SQLite
    words: str


def _kept_while_photo_is(table: str) -> str:
    photo = "SELECT 1 FROM photo WHERE photo.id = OLD.photo_id AND photo.deleted_at IS NULL"
    assert table in ("measurement", "photo_scale")
    return f"EXISTS ({photo})"


_CLOSED = " OR ".join(
    f"NEW.{column} IS DISTINCT FROM OLD.{column}"
    for column in (
        "build_id",
        "kind",
        "opened_at",
        "outcome",
        "reason",
        "closed_at",
        "deleted_at",
    )
)

GUARDS = (
    Guard(
        "measurement_edit",
        "measurement",
        "UPDATE",
        "",
        "a measurement is a record: measure again instead of editing it",
    ),
    Guard(
        "measurement_gone",
        "measurement",
        "DELETE",
        _kept_while_photo_is("measurement"),
        "a measurement goes only with its photo, out of the bin",
    ),
    Guard(
        "scale_edit",
        "photo_scale",
        "UPDATE",
        "",
        "a scale is a record: set another one instead of editing it",
    ),
    Guard(
        "scale_gone",
        "photo_scale",
        "DELETE",
        _kept_while_photo_is("photo_scale"),
        "a scale goes only with its photo, out of the bin",
    ),
    Guard(
        "decision_edit",
        "decision",
        "UPDATE",
        "",
        "a decision is a record: decide again instead of editing it",
    ),
    Guard(
        "decision_gone",
        "decision",
        "DELETE",
        "EXISTS (SELECT 1 FROM finding WHERE finding.id = OLD.finding_id"
        " AND finding.deleted_at IS NULL)",
        "a decision goes only with its finding, out of the bin",
    ),
    Guard(
        "closed_edit",
        "finding",
        "UPDATE",
        f"OLD.closed_at IS NOT NULL AND NEW.closed_at IS NOT NULL AND ({_CLOSED}"
        " OR substr(NEW.note, 1, length(OLD.note)) <> OLD.note)",
        "a closed finding is a record: open it again first",
    ),
    Guard(
        "finding_gone",
        "finding",
        "DELETE",
        "OLD.deleted_at IS NULL",
        "a finding is deleted only out of the bin",
    ),
    Guard(
        "photo_gone",
        "photo",
        "DELETE",
        "OLD.deleted_at IS NULL",
        "a photo is deleted only out of the bin",
    ),
)


def set_guards(connection: Connection) -> None:
    """Put every rule that is missing in force."""
    missing = missing_guards(connection)
    for guard in GUARDS:
        if guard.name in missing:
            for statement in _statements(guard, connection.dialect.name):
                connection.execute(text(statement))


def lift_guards(connection: Connection) -> None:
    """Take the rules out of force, for a step of the schema; the transaction sets them again."""
    present = {guard.name for guard in GUARDS} - missing_guards(connection)
    for guard in GUARDS:
        if guard.name in present:
            on = f" ON {guard.table}" if connection.dialect.name == "postgresql" else ""
            connection.execute(text(f"DROP TRIGGER {_PREFIX}{guard.name}{on}"))


def missing_guards(connection: Connection) -> set[str]:
    """The names of the rules that are not in force, or not as they should read."""
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type='trigger'"))
        found = {row.name: row.sql for row in rows}
        return {
            guard.name
            for guard in GUARDS
            if found.get(_PREFIX + guard.name) != _statements(guard, "sqlite")[-1]
        }
    asked = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O'"
    names = set(connection.execute(text(asked)).scalars())
    return {guard.name for guard in GUARDS if _PREFIX + guard.name not in names}


def _statements(guard: Guard, dialect: str) -> list[str]:
    """A rule in the words of one database."""
    name = _PREFIX + guard.name
    if dialect == "sqlite":
        when = guard.when.replace("IS DISTINCT FROM", "IS NOT")
        condition = f" WHEN {when}" if when else ""
        create = (
            f"CREATE TRIGGER {name} BEFORE {guard.deed} ON {guard.table}{condition}"
            f" BEGIN SELECT RAISE(ABORT, '{guard.words}'); END"
        )
        return [f"DROP TRIGGER IF EXISTS {name}", create]
    # A subquery may not stand in the condition of a trigger here, so all stands in its function.
    passed = "OLD" if guard.deed == "DELETE" else "NEW"
    refuse = f"RAISE EXCEPTION '{guard.words}' USING ERRCODE = 'integrity_constraint_violation';"
    body = f"IF {guard.when} THEN {refuse} END IF;" if guard.when else refuse
    return [
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN {body} RETURN {passed}; END $$",
        f"DROP TRIGGER IF EXISTS {name} ON {guard.table}",
        f"CREATE TRIGGER {name} BEFORE {guard.deed} ON {guard.table}"
        f" FOR EACH ROW EXECUTE FUNCTION {name}()",
    ]
