"""How often: causes confirmed and fixes that held, counted here, and elsewhere kept apart."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.tallies import OTHER_FIX, Tally, tallies_of
from defectlog.guide import library
from defectlog.records import Counted, Elsewhere, ElsewhereCount, FixResult
from tests.builders import NOON, make_build

KIND = library.kind("dry-spot")
FIRST, SECOND = KIND.causes[0].key, KIND.causes[1].key
FIX = KIND.fixes[0].key


@pytest.fixture
def build(session: Session):
    return make_build(session)


def finding_with(session: Session, build, cause: str, *, kind: str = "dry-spot"):
    finding = open_finding(session, build.id, kind, NOON)
    judge_cause(session, finding.id, cause, True, seen="", at=NOON)
    return finding


def test_causes_are_counted_among_findings_with_a_confirmed_cause(session: Session, build) -> None:
    for cause in (FIRST, FIRST, SECOND, FIRST, FIRST):
        finding_with(session, build, cause)
    open_finding(session, build.id, "dry-spot", NOON)
    unsolved = open_finding(session, build.id, "dry-spot", NOON)
    judge_cause(session, unsolved.id, FIRST, False, seen="", at=NOON)
    finding_with(session, build, FIRST).deleted_at = NOON
    session.flush()

    found = tallies_of(session, "dry-spot").causes
    assert found == {FIRST: (Tally(4, 5),), SECOND: (Tally(1, 5),)}
    # Wilson, 4 of 5, z 1.96: centre (0.8 + 0.38415) / 1.7683 = 0.6697, reach 0.2939.
    assert found[FIRST][0].words.replace("\xa0", " ") == (
        "here: 4 of 5 times (95 % interval 38 to 96 %)"
    )


def test_fixes_are_counted_once_somebody_has_looked_again(session: Session, build) -> None:
    finding = finding_with(session, build, FIRST)
    for fix_key, result in (
        (FIX, FixResult.HELD),
        (FIX, FixResult.FAILED),
        (FIX, None),
        ("", FixResult.HELD),
    ):
        fix = record_fix(session, finding.id, "Done", minutes=None, at=NOON, fix_key=fix_key)
        look_again(session, finding.id, fix.id, result, at=NOON)

    found = tallies_of(session, "dry-spot").fixes
    assert found == {FIX: (Tally(1, 2),), OTHER_FIX: (Tally(1, 1),)}
    # Under three cases an interval would say next to nothing.
    assert found[FIX][0].words == "here: 1 of 2 times"
    assert found[OTHER_FIX][0].words == "here: 1 of 1 time"


def test_counts_from_elsewhere_stand_beside_and_are_never_added(session: Session, build) -> None:
    finding_with(session, build, FIRST)
    for uid, name, count, cases in (("a", "Heron Slip", 7, 9), ("b", "Tern Yard", 1, 1)):
        shop = Elsewhere(uid=uid, name=name, imported_at=NOON)
        shop.counts.append(
            ElsewhereCount(
                about=Counted.CAUSE, kind="dry-spot", key=FIRST, count=count, cases=cases
            )
        )
        session.add(shop)
    session.flush()

    here, heron, tern = tallies_of(session, "dry-spot").causes[FIRST]
    assert here == Tally(1, 1)
    assert heron.words.startswith("elsewhere: 7 of 9 times (95 % interval")
    assert heron.words.endswith("at Heron Slip")
    assert tern.words == "elsewhere: 1 of 1 time, at Tern Yard"
    assert tallies_of(session, "peel-tear").causes == {}
