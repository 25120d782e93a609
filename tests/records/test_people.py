"""Coming in, on both databases: tries and scans that come at once are taken one after the other."""

from datetime import UTC, datetime, timedelta

from defectlog.bench.pairing import CodeNotGoodError, allow, ask, come_in, new_code
from defectlog.bench.people import cut_all_off, devices_in, find_device
from defectlog.bench.tries import FREE, TooManyTriesError, begin_try
from defectlog.records import Role
from defectlog.records.migrating import migrate
from defectlog.records.session import Records
from tests.at_once import at_once

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def test_of_twelve_tries_at_once_five_are_looked_at(empty_records: Records) -> None:
    migrate(empty_records.engine)

    def attempt(_n: int) -> str:
        with empty_records.write() as session, session.begin():
            begin_try(session, "192.168.1.7", at=NOON)
        return "looked at"

    came = at_once(12, attempt)
    assert came.count("looked at") == FREE
    assert came.count(TooManyTriesError) == 12 - FREE


def test_of_four_phones_with_one_code_one_comes_in(empty_records: Records) -> None:
    migrate(empty_records.engine)
    with empty_records.write() as session, session.begin():
        code = new_code(session, Role.MAKER, at=NOON)
    keys: list[str] = []

    def scan(n: int) -> str:
        with empty_records.write() as session, session.begin():
            waits = ask(session, code.picture, f"Phone {n}", "192.168.1.7", at=NOON + SECOND)
        keys.append(waits)
        return "asked"

    came = at_once(4, scan)
    assert came.count("asked") == 1 and came.count(CodeNotGoodError) == 3
    with empty_records.write() as session, session.begin():
        allow(session, code.number, at=NOON + SECOND)

    def fetch(n: int) -> str:
        with empty_records.write() as session, session.begin():
            _, key = come_in(session, keys[0], at=NOON + SECOND)
        keys.append(key)
        return "in"

    fetched = at_once(4, fetch)
    assert fetched.count("in") == 1 and fetched.count(CodeNotGoodError) == 3
    later = NOON + timedelta(minutes=1)
    with empty_records.read() as session:
        assert find_device(session, keys[1], later).role is Role.MAKER
        assert len(devices_in(session, later)) == 1

    with empty_records.write() as session, session.begin():
        assert cut_all_off(session, at=later) == 1
    with empty_records.read() as session:
        assert find_device(session, keys[1], later) is None
