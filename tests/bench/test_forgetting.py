"""All that came from one shop goes in one step; what was found out here with it stays."""

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.forgetting import forget_shop, shops_here, what_goes
from defectlog.bench.house_notes import add_note, notes_of
from defectlog.bench.kinds import find_kind, library_of
from defectlog.bench.knowledge import (
    Knowledge,
    SharedCause,
    SharedCount,
    SharedFix,
    SharedKind,
    SharedNote,
    Shop,
)
from defectlog.bench.taking_in import take_in
from defectlog.bench.tallies import Tally, tallies_of
from defectlog.errors import NotFoundError
from defectlog.guide import library
from defectlog.records import Counted, FixResult
from tests.builders import NOON, make_build

TERN = Shop("a1a1a1a1", "Tern Yard")
HERON = Shop("b2b2b2b2", "Heron Slip")
KELP, LEAK, WEED, SCRUB = "own-kelp-1", "own-leak-1", "own-weed-1", "own-scrub-1"
GELLED = library.kind("dry-spot").causes[0].key
FILE = Knowledge(
    shop=TERN,
    exported_at=NOON,
    kinds=(SharedKind(KELP, "KP", "Kelp print", "Green.", "Weed.", TERN, (("face", ("tool",)),)),),
    causes=(
        SharedCause("dry-spot", LEAK, "Leaky tap", "", "", "", None, "", TERN),
        SharedCause(KELP, WEED, "Mould not scrubbed", "", "", "", None, "", TERN),
    ),
    fixes=(SharedFix(KELP, SCRUB, "Scrub", "rework", (("Scrub.", ()),), "Soft.", "", "", TERN),),
    notes=(SharedNote("c3c3c3c3", "dry-spot", "Vent low.", NOON),),
    counts=(
        SharedCount(Counted.CAUSE, "dry-spot", GELLED, 3, 4),
        SharedCount(Counted.CAUSE, KELP, WEED, 2, 2),
    ),
)


@pytest.fixture
def tern(session: Session) -> int:
    """The number of the shop whose file was taken in."""
    take_in(session, FILE, at=NOON)
    return shops_here(session)[0].id


def test_all_of_it_goes_and_is_counted_before(session: Session, tern: int) -> None:
    own = add_note(session, "dry-spot", "Ours.", at=NOON)
    going = what_goes(session, tern)
    assert going.words.replace("\xa0", " ") == "1 kind, 2 causes, 1 fix, 1 note and 2 counts"
    assert going.stays == []
    assert len(library_of(session).kinds) == len(library.kinds()) + 1

    forget_shop(session, tern)

    assert library_of(session).kinds == library.kinds()
    assert notes_of(session, "dry-spot").kept == (own,)
    assert tallies_of(session, "dry-spot").causes == {}
    assert shops_here(session) == []
    with pytest.raises(NotFoundError):
        what_goes(session, tern)


def test_taking_the_file_in_again_undoes_it(session: Session, tern: int) -> None:
    before = (library_of(session), tallies_of(session, "dry-spot"))
    words = [note.words for note in notes_of(session, "dry-spot").kept]
    forget_shop(session, tern)

    take_in(session, FILE, at=NOON + timedelta(days=1))

    assert (library_of(session), tallies_of(session, "dry-spot")) == before
    assert [note.words for note in notes_of(session, "dry-spot").kept] == words


def test_what_was_confirmed_here_stays(session: Session, tern: int) -> None:
    build = make_build(session)
    finding = open_finding(session, build.id, "dry-spot", NOON)
    judge_cause(session, finding.id, LEAK, True, seen="", at=NOON)
    green = open_finding(session, build.id, KELP, NOON)
    fix = record_fix(session, green.id, "Scrubbed", minutes=5, at=NOON, fix_key=SCRUB)
    look_again(session, green.id, fix.id, FixResult.HELD, at=NOON)
    assert what_goes(session, tern).stays == ["Kelp print", "Leaky tap", "Scrub"]

    going = forget_shop(session, tern)

    assert going.words.replace("\xa0", " ") == "1 cause, 1 note and 2 counts"
    assert tallies_of(session, "dry-spot").causes == {LEAK: (Tally(1, 1),)}
    assert tallies_of(session, KELP).fixes == {SCRUB: (Tally(1, 1),)}
    assert finding.confirmed_cause == LEAK
    assert [one.title for one in find_kind(session, KELP).fixes] == ["Scrub"]
    assert find_kind(session, KELP).causes == ()
    # It is still there to be forgotten once nothing here speaks of it.
    assert [shop.name for shop in shops_here(session)] == []
    assert take_in(session, FILE, at=NOON).counts == 2


def test_a_kind_that_a_note_of_ours_stands_under_stays(session: Session, tern: int) -> None:
    add_note(session, KELP, "Seen in spring.", at=NOON)

    going = forget_shop(session, tern)

    assert going.stays == ["Kelp print"]
    assert find_kind(session, KELP).origin == "Tern Yard"


def test_what_a_shop_passed_on_is_listed_under_the_shop_that_wrote_it(session: Session) -> None:
    passed_on = SharedCause("dry-spot", "own-dust-1", "Dust", "", "", "", None, "", HERON)
    take_in(session, Knowledge(TERN, NOON, causes=(passed_on,)), at=NOON)

    heron, tern = shops_here(session)
    assert (heron.name, tern.name) == ("Heron Slip", "Tern Yard")
    assert what_goes(session, tern.id).is_nothing
    forget_shop(session, heron.id)
    assert find_kind(session, "dry-spot") == library.kind("dry-spot")
    assert [shop.name for shop in shops_here(session)] == ["Tern Yard"]
