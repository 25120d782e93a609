"""Records made by an earlier version are brought up to date with all that is in them."""

from sqlalchemy import text

from defectlog.records import CauseVerdict, Finding, FixDone, Workshop
from defectlog.records.migrating import migrate
from defectlog.records.session import Records
from tests.builders import NOON

AT_0001 = (
    "INSERT INTO workshop (id, name) VALUES (1, 'Heron Slip')",
    "INSERT INTO part (id, name, drawing_ref, mould, laminate_plan)"
    " VALUES (1, 'Locker door', '', 'mould 2', '')",
    "INSERT INTO build (id, part_id, started_at, note)"
    " VALUES (7, 1, '2026-03-02 12:00:00+00:00', '')",
    "INSERT INTO finding (id, build_id, kind, note, opened_at, outcome, reason)"
    " VALUES (3, 7, 'dry-spot', 'low corner', '2026-03-02 12:00:00+00:00', 'open', '')",
    "INSERT INTO cause_verdict (finding_id, cause, is_confirmed, seen, at)"
    " VALUES (3, 'gelled', true, 'hard pot', '2026-03-02 12:00:00+00:00')",
    "INSERT INTO fix_done (finding_id, words, minutes, at)"
    " VALUES (3, 'Sanded back', 35, '2026-03-02 12:00:00+00:00')",
)


def test_rows_made_by_the_first_version_are_kept(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0001")
    with empty_records.engine.begin() as connection:
        for row in AT_0001:
            connection.execute(text(row.replace("+00:00'", _zone(empty_records) + "'")))

    migrate(empty_records.engine)

    with empty_records.read() as session:
        finding = session.get(Finding, 3)
        assert (finding.build_id, finding.kind, finding.note) == (7, "dry-spot", "low corner")
        assert finding.opened_at == NOON
        (verdict,) = session.query(CauseVerdict).all()
        assert (verdict.cause, verdict.seen, verdict.is_confirmed) == ("gelled", "hard pot", True)
        (fix,) = session.query(FixDone).all()
        assert (fix.finding_id, fix.words, fix.minutes) == (3, "Sanded back", 35)
        # Nobody has looked again, and nobody said which fix of the guide it was.
        assert fix.result is fix.looked_at is fix.fix_key is None
        assert finding.checks == []
        assert session.get(Workshop, 1).name == "Heron Slip"


def _zone(records: Records) -> str:
    """SQLite keeps moments as text without their zone, in UTC."""
    return "" if records.engine.dialect.name == "sqlite" else "+00:00"
