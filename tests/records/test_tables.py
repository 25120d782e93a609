"""What the tables keep and refuse, on SQLite and on PostgreSQL."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, StatementError
from sqlalchemy.orm import Session

from defectlog.records import (
    Build,
    BuildFact,
    CheckDone,
    Counted,
    Elsewhere,
    ElsewhereCount,
    Finding,
    Limit,
    Outcome,
    OwnKind,
    Part,
)
from defectlog.records.migrating import migrate
from defectlog.records.session import Records
from tests.builders import NOON, make_build, make_finding, make_part, make_photo
from tests.measured import add_measurement


@pytest.fixture
def session(empty_records: Records) -> Iterator[Session]:
    migrate(empty_records.engine)
    with empty_records.write() as opened:
        yield opened


def test_a_moment_comes_back_in_utc_whatever_zone_it_was_said_in(session: Session) -> None:
    east = datetime(2026, 3, 2, 14, 30, tzinfo=timezone(timedelta(hours=2)))
    session.add(Build(part=make_part(session), started_at=east))
    session.commit()

    (build,) = session.query(Build).all()
    assert build.started_at == datetime(2026, 3, 2, 12, 30, tzinfo=UTC)
    assert build.started_at.utcoffset() == timedelta(0)


def test_a_moment_without_zone_is_refused(session: Session) -> None:
    session.add(Build(part=make_part(session), started_at=datetime(2026, 3, 2)))
    with pytest.raises(StatementError, match="time zone"):
        session.flush()


def test_facts_keep_their_types(session: Session) -> None:
    plies = [{"material": "woven glass", "areal_weight_g_m2": 200.0, "orientation": "±45"}]
    build = make_build(
        session, vacuum_abs_mbar=11.5, degassed=False, process="infusion", plies=plies
    )
    session.commit()
    session.expire_all()

    known = session.get(Build, build.id).known
    assert known == {
        "vacuum_abs_mbar": 11.5,
        "degassed": False,
        "process": "infusion",
        "plies": plies,
    }


def test_two_parts_cannot_have_one_name(session: Session) -> None:
    session.add_all([Part(name="Locker door"), Part(name="Locker door")])
    with pytest.raises(IntegrityError):
        session.flush()


def test_a_fact_is_known_once_on_a_build(session: Session) -> None:
    build = make_build(session)
    session.add_all([BuildFact(build=build, name="cure_c", value=v, at=NOON) for v in (20, 25)])
    with pytest.raises(IntegrityError):
        session.flush()


def test_a_limit_goes_with_its_part_and_a_build_does_not(session: Session) -> None:
    part = make_part(session)
    session.add(Limit(part=part, kind="dry-spot", largest_mm=9.5))
    make_build(session, part)
    session.flush()
    with pytest.raises(IntegrityError):
        session.execute(text("DELETE FROM part"))


def test_a_closed_finding_has_a_date(session: Session) -> None:
    build = make_build(session)
    session.add(Finding(build=build, kind="dry-spot", opened_at=NOON, outcome=Outcome.REPAIR))
    with pytest.raises(IntegrityError):
        session.flush()


def test_outcomes_are_kept_in_words(session: Session) -> None:
    build = make_build(session)
    finding = Finding(
        build=build,
        kind="dry-spot",
        opened_at=NOON,
        outcome=Outcome.CONCESSION,
        closed_at=NOON,
    )
    session.add(finding)
    session.flush()
    stored = session.execute(text("SELECT outcome FROM finding")).scalar_one()
    assert stored == "use as is under concession"


def test_a_fraction_is_none_below_nothing(session: Session) -> None:
    photo = make_photo(session, make_build(session))
    with pytest.raises(IntegrityError):
        add_measurement(session, photo, -0.01)


def test_a_measurement_is_never_edited(session: Session) -> None:
    photo = make_photo(session, make_build(session))
    row = add_measurement(session, photo, 0.015)
    row.void_fraction = 0.011
    with pytest.raises(RuntimeError, match="measure again"):
        session.flush()


def test_deleted_marks_and_findings_are_not_listed(session: Session) -> None:
    photo = make_photo(session, make_build(session))
    finding = make_finding(session, photo)
    finding.marks[0].deleted_at = finding.deleted_at = NOON
    session.flush()
    session.expire_all()

    assert photo.marks == []
    assert photo.build.findings == []


def test_a_check_has_one_result_on_a_finding(session: Session) -> None:
    finding = Finding(build=make_build(session), kind="dry-spot", opened_at=NOON)
    finding.checks += [
        CheckDone(check_key="pot", is_positive=positive, at=NOON) for positive in (True, False)
    ]
    session.add(finding)
    with pytest.raises(IntegrityError):
        session.flush()


def test_two_kinds_of_the_shop_cannot_have_the_same_letters(session: Session) -> None:
    session.add_all(
        OwnKind(key=key, code="FE", title=key, look="", definition="", written_at=NOON)
        for key in ("own-one", "own-two")
    )
    with pytest.raises(IntegrityError):
        session.flush()


def test_another_shop_cannot_have_counted_more_than_it_looked_at(session: Session) -> None:
    shop = Elsewhere(uid="a1", name="Heron Slip", imported_at=NOON)
    shop.counts.append(
        ElsewhereCount(about=Counted.CAUSE, kind="dry-spot", key="gelled", count=8, cases=7)
    )
    session.add(shop)
    with pytest.raises(IntegrityError):
        session.flush()
