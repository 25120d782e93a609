"""Records made by an earlier version are brought up to date with all that is in them."""

from sqlalchemy import text

from defectlog.records import (
    Build,
    CauseVerdict,
    Device,
    FailedTry,
    Finding,
    FixDone,
    LaterLook,
    Lesson,
    LessonState,
    Mark,
    OwnFix,
    OwnKind,
    PairingCode,
    Passphrase,
    PrintCheck,
    Said,
    Trial,
    TrialResult,
    TrialRun,
    Workshop,
)
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


AT_0007 = (
    "INSERT INTO photo (id, build_id, sha256, name, media_type, bytes, width_px, height_px, face,"
    " stage, note, received_at) VALUES (9, 7, 'aa', 'a.jpg', 'image/jpeg', 10, 40, 30, 'tool side',"
    " 'at demould', '', '2026-03-02 12:00:00+00:00')",
    "INSERT INTO mark (id, photo_id, finding_id, shape, points, drawn_at)"
    " VALUES (5, 9, 3, 'point', '[[1, 2]]', '2026-03-02 12:00:00+00:00')",
)

AT_0003 = (
    *AT_0001[:4],
    "INSERT INTO lesson (id, part_id, finding_id, words, state, reason, written_at)"
    " VALUES (2, 1, 3, 'Vent at the low corner', 'kept', 'six sound doors',"
    " '2026-03-02 12:00:00+00:00')",
    "INSERT INTO print_check (id, across_mm, down_mm, at)"
    " VALUES (4, 100.5, 100.2, '2026-03-02 12:00:00+00:00')",
)


def test_rows_from_before_there_were_trials_are_kept(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0003")
    with empty_records.engine.begin() as connection:
        for row in AT_0003:
            connection.execute(text(row.replace("+00:00'", _zone(empty_records) + "'")))

    migrate(empty_records.engine)

    with empty_records.write() as session, session.begin():
        lesson = session.get(Lesson, 2)
        assert (lesson.words, lesson.state) == ("Vent at the low corner", LessonState.KEPT)
        assert session.get(PrintCheck, 4).across_mm == 100.5
        build = session.get(Build, 7)
        assert build.trial_run is None
        # And a trial can be entered at once; a lesson may also be proposed.
        lesson.state = LessonState.PROPOSED
        trial = Trial(
            part_id=1,
            question="Does the veil help?",
            fact="surface_veil",
            settings=[False, True],
            result=TrialResult.VOIDS,
            smallest_difference=0.002,
            per_setting=2,
            seed=7,
            by_day=False,
            planned_at=NOON,
        )
        trial.runs.append(TrialRun(number=1, setting=1, block=1, build=build))
        session.add(trial)
        session.flush()
        assert build.trial_run.value is True


def _zone(records: Records) -> str:
    """SQLite keeps moments as text without their zone, in UTC."""
    return "" if records.engine.dialect.name == "sqlite" else "+00:00"


def test_an_older_workshop_lets_nobody_in_until_it_is_opened(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0005")

    migrate(empty_records.engine)

    with empty_records.read() as session:
        assert session.query(Device).all() == session.query(PairingCode).all() == []
        assert session.query(Passphrase).all() == session.query(FailedTry).all() == []


def test_own_kinds_from_before_the_key_took_them_have_no_answers(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0006")
    with empty_records.engine.begin() as connection:
        at = f"'2026-03-02 12:00:00{_zone(empty_records)}'"
        connection.execute(
            text(
                "INSERT INTO own_kind (id, key, code, title, look, definition, written_at)"
                f" VALUES (1, 'own-kelp-1', 'KP', 'Kelp print', 'Green.', 'Weed.', {at})"
            )
        )

    migrate(empty_records.engine)

    with empty_records.write() as session, session.begin():
        kelp = session.get(OwnKind, 1)
        assert (kelp.title, kelp.answers, kelp.written_at) == ("Kelp print", None, NOON)
        # Answers and a fix can be entered at once.
        kelp.answers = {"face": ["tool"]}
        steps = [{"do": "Scrub it.", "cautions": []}]
        fix = OwnFix(
            kind=kelp.key,
            key="own-scrub-1",
            title="Scrub",
            outcome="rework",
            steps=steps,
            not_when="Gelcoat is soft.",
            written_at=NOON,
        )
        session.add(fix)
    with empty_records.read() as session:
        assert session.get(OwnKind, 1).answers == {"face": ["tool"]}
        assert session.get(OwnFix, 1).steps == steps


def test_marks_from_before_later_looks_can_be_looked_at_again(empty_records: Records) -> None:
    migrate(empty_records.engine, step="0007")
    zone = _zone(empty_records)
    with empty_records.engine.begin() as connection:
        for row in (*AT_0001[:4], *AT_0007):
            connection.execute(text(row.replace("+00:00'", zone + "'")))

    migrate(empty_records.engine)

    with empty_records.write() as session, session.begin():
        mark = session.get(Mark, 5)
        assert (mark.finding_id, mark.points) == (3, [[1, 2]])
        look = LaterLook(mark=mark, photo_id=9, said=Said.GONE, at=NOON, by="this PC")
        session.add(look)
    with empty_records.read() as session:
        assert session.query(LaterLook).one().said is Said.GONE
