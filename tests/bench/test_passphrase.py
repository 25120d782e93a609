"""The passphrase: what is too weak, and a hash as slow as it has to be."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.passphrase import (
    check_strength,
    has_passphrase,
    is_right,
    kept_hash,
    set_passphrase,
)
from defectlog.bench.tries import TooManyTriesError, begin_try, was_right, zone_of
from defectlog.errors import FieldError

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    "words",
    [
        "short one",
        "eleven char",
        "passwordpassword",
        "Password1234",
        "123456789012",
        "qwertyuiop123",
        "Workshop2026",
        "aaaaaaaaaaaaaaaa",
        "abababababab",
        "defectlog defectlog",
    ],
)
def test_what_would_be_tried_first_is_refused_with_what_to_do(words: str) -> None:
    with pytest.raises(FieldError, match="four words"):
        check_strength(words)


@pytest.mark.parametrize(
    "words", ["tide lamp rudder glue", "Kø7-vind,skær", "雨の日は船を塗らないで寝る"]
)
def test_words_of_any_language_will_do(words: str) -> None:
    check_strength(words)


def test_a_passphrase_too_long_to_be_typed_is_refused() -> None:
    with pytest.raises(FieldError, match="256"):
        check_strength("glue " * 52)


def test_the_hash_costs_what_the_storage_cheat_sheet_asks(session: Session) -> None:
    # OWASP Password Storage Cheat Sheet, scrypt: N=2^15, r=8, p=3 (32 MiB) is one of its five.
    set_passphrase(session, "tide lamp rudder glue", at=NOON)
    session.flush()
    kept = kept_hash(session)

    assert kept.startswith("scrypt$32768$8$3$")
    assert re.fullmatch(r"[0-9a-f]{32}\$[0-9a-f]{64}", kept.split("$", 4)[4])
    assert is_right("tide lamp rudder glue", kept)
    assert not is_right("tide lamp rudder glu", kept)


def test_letters_with_accents_match_however_the_keyboard_made_them(session: Session) -> None:
    set_passphrase(session, "blå fjord og høvl", at=NOON)
    session.flush()
    assert is_right("bla\u030a fjord og høvl", kept_hash(session))


def test_without_a_passphrase_nothing_is_the_right_one(session: Session) -> None:
    assert not has_passphrase(session)
    assert not is_right("", kept_hash(session))


def fail(session: Session, zone: str, at: datetime) -> int:
    """Try once; the seconds to wait, 0 if it was looked at."""
    try:
        begin_try(session, zone, at=at)
    except TooManyTriesError as error:
        return error.seconds
    return 0


def test_each_wrong_try_after_the_fifth_waits_twice_as_long(session: Session) -> None:
    # By hand: waits of 1, 2, 4, 8, 16, 32, 60 s; so 12 tries need 123 s where 5 need none.
    at, waited = NOON, []
    for _ in range(12):
        wait = 0
        while seconds := fail(session, "192.168.1.7", at):
            at += timedelta(seconds=seconds)
            wait += seconds
        waited.append(wait)
    assert waited[:5] == [0] * 5
    assert [round(wait) for wait in waited[5:]] == [
        pytest.approx(w, abs=1) for w in (1, 2, 4, 8, 16, 32, 60)
    ]


def test_a_day_of_guessing_is_a_few_thousand_tries(session: Session) -> None:
    # Fifteen quiet minutes are forgiven: five free tries then, which is slower than a minute each.
    # At one a minute a day holds 1440; four words out of 2000 are 1.6e13.
    at, tries = NOON, 0
    while at < NOON + timedelta(hours=2):
        if seconds := fail(session, "192.168.1.7", at):
            at += timedelta(seconds=seconds)
        else:
            tries += 1
    assert tries <= 2 * 60 + 15


def test_the_right_one_clears_the_count_of_its_own_zone_alone(session: Session) -> None:
    for _ in range(5):
        number = begin_try(session, "192.168.1.7", at=NOON)
        begin_try(session, "192.168.1.8", at=NOON)
    was_right(session, number)

    assert fail(session, "192.168.1.7", NOON) == 0
    assert fail(session, "192.168.1.8", NOON) > 0


def test_a_clock_set_back_locks_nobody_out_for_a_day(session: Session) -> None:
    for _ in range(9):
        fail(session, "192.168.1.7", NOON)
    assert fail(session, "192.168.1.7", NOON - timedelta(days=1)) == 0


@pytest.mark.parametrize(
    ("address", "zone"),
    [
        ("192.168.1.7", "192.168.1.7"),
        ("::ffff:192.168.1.7", "192.168.1.7"),
        ("2001:db8:1:2:aaaa::1", "2001:db8:1:2::/64"),
        ("2001:db8:1:2:bbbb::9", "2001:db8:1:2::/64"),
        ("fe80::1%wlan0", "fe80::/64"),
        ("", "unknown"),
    ],
)
def test_tries_are_counted_by_where_they_come_from(address: str, zone: str) -> None:
    assert zone_of(address, at_the_pc=False) == zone
    assert zone_of(address, at_the_pc=True) == "pc"
