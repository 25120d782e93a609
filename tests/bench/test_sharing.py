"""Two shops share what they know: there and back whole, kept apart, nothing by half."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.house_notes import add_note, delete_note, edit_note, notes_of
from defectlog.bench.kinds import find_kind, key_of, library_of
from defectlog.bench.knowledge_file import (
    MOST_BYTES,
    KnowledgeTooLargeError,
    NewerKnowledgeError,
    read_knowledge,
    write_knowledge,
)
from defectlog.bench.knowledge_rows import KnowledgeFileError
from defectlog.bench.own_causes import OwnCausePlan, save_own_cause
from defectlog.bench.own_fixes import OwnFixPlan, save_own_fix
from defectlog.bench.own_kinds import OwnKindPlan, save_own_kind
from defectlog.bench.own_rows import delete_own
from defectlog.bench.parts import rename_workshop
from defectlog.bench.sharing import give_out, leave_counts_out
from defectlog.bench.taking_in import OlderFileError, OwnFileError, take_in
from defectlog.bench.tallies import Tally, tallies_of
from defectlog.bench.why import why
from defectlog.guide import library
from defectlog.guide.own import OwnStep
from defectlog.records import (
    Build,
    Elsewhere,
    ElsewhereCount,
    FixResult,
    HouseNote,
    OwnCause,
    OwnFix,
    OwnKind,
)
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address
from tests.builders import NOON, make_build

KIND = library.kind("dry-spot")
SCRUB = OwnFixPlan(
    "Scrub and polish",
    "rework",
    (OwnStep("Sand it back.", ("dust",)), OwnStep("Polish.")),
    "The gelcoat is soft.",
    "Look along a low lamp.",
    "20 min",
)
LATER = NOON + timedelta(days=1)


def fill(session: Session) -> None:
    """The other shop: an own kind, causes, a note and counts."""
    rename_workshop(session, "Heron Slip")
    kelp = save_own_kind(
        session,
        OwnKindPlan("Kelp print", "KP", "Green.\nBranched.", "Weed.", {"face": ("tool",)}),
        at=NOON,
    )
    save_own_fix(session, kelp.key, SCRUB, at=NOON)
    save_own_cause(session, kelp.key, OwnCausePlan("Mould not scrubbed"), at=NOON)
    check = ("Wipe it.", "the cloth is grey", 2.5)
    save_own_cause(session, "dry-spot", OwnCausePlan("Dust", "It settles.", *check), at=NOON)
    add_note(session, "dry-spot", "Vent at the low corner – 5 °C matter.", at=NOON)
    build = make_build(session)
    for number in range(9):
        finding = open_finding(session, build.id, "dry-spot", NOON)
        cause = KIND.causes[int(number > 6)].key
        judge_cause(session, finding.id, cause, True, seen="", at=NOON)
    fix = record_fix(session, finding.id, "Done", minutes=1, at=NOON, fix_key=KIND.fixes[0].key)
    look_again(session, finding.id, fix.id, FixResult.HELD, at=NOON)


@contextmanager
def other_shop(folder: Path) -> Iterator[Session]:
    records = Records(sqlite_address(folder / "heron.sqlite"))
    migrate(records.engine)
    with records.write() as session:
        fill(session)
        yield session
    records.close()


@pytest.fixture
def heron(tmp_path: Path) -> Iterator[Session]:
    """The records of the other shop."""
    with other_shop(tmp_path) as session:
        yield session


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A file of such a shop."""
    with other_shop(tmp_path_factory.mktemp("heron")) as session:
        return write_knowledge(give_out(session, at=NOON))


def file_of(session: Session) -> bytes:
    return write_knowledge(give_out(session, at=NOON))


def told(file: bytes) -> dict[str, Any]:
    return json.loads(file)


def all_rows(session: Session) -> list[Any]:
    tables = (OwnKind, OwnCause, HouseNote, OwnFix, Elsewhere, ElsewhereCount)
    return [
        [{c.key: getattr(row, c.key) for c in table.__table__.columns} for row in rows]
        for table in tables
        for rows in [session.scalars(select(table).order_by(table.id)).all()]
    ]


def test_what_is_written_is_read_back_the_same(heron: Session) -> None:
    given, file = give_out(heron, at=NOON), file_of(heron)

    assert read_knowledge(file) == given
    assert [
        (c.key, c.count, c.cases) for c in given.counts if c.about.value == "cause confirmed"
    ] == sorted([(KIND.causes[0].key, 7, 9), (KIND.causes[1].key, 2, 9)])
    assert told(file)["version"] == 2 and "5 °C" in file.decode()


def test_another_shop_takes_all_of_it_in(session: Session, file: bytes) -> None:
    taken = take_in(session, read_knowledge(file), at=NOON)

    assert (taken.kinds, taken.causes, taken.fixes) == (1, 2, 1)
    assert (taken.notes, taken.counts) == (1, 3)
    (own,) = [kind for kind in library_of(session).kinds if kind.origin]
    assert (own.title, own.code, own.origin) == ("Kelp print", "KP", "Heron Slip")
    assert [cause.title for cause in own.causes] == ["Mould not scrubbed"]
    (scrub,) = own.fixes
    assert (scrub.title, scrub.origin, scrub.time) == ("Scrub and polish", "Heron Slip", "20 min")
    assert [[c.key for c in step.cautions] for step in scrub.steps] == [["dust"], []]
    assert own.key in key_of(session)[1].signs
    dust = find_kind(session, "dry-spot").causes[-1]
    assert (dust.title, dust.origin, dust.checks[0].minutes) == ("Dust", "Heron Slip", 2.5)
    (note,) = notes_of(session, "dry-spot").kept
    assert note.words.startswith("Vent") and note.elsewhere.name == "Heron Slip"
    found = tallies_of(session, "dry-spot")
    assert found.causes[KIND.causes[0].key] == (Tally(7, 9, "Heron Slip"),)
    assert found.fixes[KIND.fixes[0].key] == (Tally(1, 1, "Heron Slip"),)


def test_taking_it_in_twice_changes_nothing(session: Session, file: bytes) -> None:
    take_in(session, read_knowledge(file), at=NOON)
    before = all_rows(session)
    again = take_in(session, read_knowledge(file), at=LATER)

    assert all_rows(session) == before
    assert again.words == "All that is in this file of Heron Slip was here already."


def test_counts_from_elsewhere_move_no_share_and_are_not_handed_on(
    session: Session, file: bytes
) -> None:
    data = told(file)
    data["causes"] = []
    knowledge = read_knowledge(json.dumps(data).encode())
    finding = open_finding(session, make_build(session).id, "dry-spot", NOON)
    before = why(session, finding).ranking.as_json()
    take_in(session, knowledge, at=NOON)

    assert why(session, finding).ranking.as_json() == before
    given = give_out(session, at=NOON)
    assert given.counts == () and given.notes == ()
    # Its kind is handed on, with whose it is, for what is found of it here means nothing without.
    assert [kind.origin.name for kind in given.kinds] == ["Heron Slip"]


def test_a_newer_file_brings_counts_and_words_up_to_date(session: Session, heron: Session) -> None:
    file = file_of(heron)
    take_in(session, read_knowledge(file), at=NOON)
    (note,) = notes_of(heron, "dry-spot").kept
    edit_note(heron, "dry-spot", note.id, "Vent at both low corners.", at=LATER)
    finding = open_finding(heron, heron.query(Build).one().id, "dry-spot", NOON)
    judge_cause(heron, finding.id, KIND.causes[0].key, True, seen="", at=NOON)
    newer = read_knowledge(write_knowledge(give_out(heron, at=LATER)))
    taken = take_in(session, newer, at=LATER)

    assert (taken.kinds, taken.causes, taken.notes, taken.counts) == (0, 0, 1, 2)
    assert notes_of(session, "dry-spot").kept[0].words == "Vent at both low corners."
    assert tallies_of(session, "dry-spot").causes[KIND.causes[0].key] == (
        Tally(8, 10, "Heron Slip"),
    )
    with pytest.raises(OlderFileError, match="newer file of Heron Slip"):
        take_in(session, read_knowledge(file), at=LATER)


def test_what_was_deleted_here_stays_deleted(session: Session, file: bytes) -> None:
    take_in(session, read_knowledge(file), at=NOON)
    (note,) = notes_of(session, "dry-spot").kept
    delete_note(session, "dry-spot", note.id, at=NOON)
    cause = find_kind(session, "dry-spot").causes[-1].key
    delete_own(session, OwnCause, "dry-spot", cause, at=NOON)
    take_in(session, read_knowledge(file), at=LATER)

    assert notes_of(session, "dry-spot").kept == ()
    assert find_kind(session, "dry-spot") == KIND


def test_letters_that_are_taken_are_changed_and_that_is_said(session: Session, file: bytes) -> None:
    save_own_kind(session, OwnKindPlan("Knot print", "KP", "Brown.", "A knot."), at=NOON)
    taken = take_in(session, read_knowledge(file), at=NOON)

    assert taken.recoded == (("Kelp print", "KQ"),)
    assert "Kelp print goes by KQ here, its letters were taken." in taken.words
    assert take_in(session, read_knowledge(file), at=LATER).recoded == ()


def test_our_own_words_are_never_changed_by_a_file(session: Session, file: bytes) -> None:
    mine = save_own_kind(session, OwnKindPlan("Knot print", "KN", "Brown.", "A knot."), at=NOON)
    note = add_note(session, "dry-spot", "Ours.", at=NOON)
    data = told(file)
    data["kinds"][0]["key"] = mine.key
    data["causes"][0]["kind"] = data["fixes"][0]["kind"] = mine.key
    data["notes"][0]["uid"] = note.uid
    take_in(session, read_knowledge(json.dumps(data).encode()), at=NOON)

    assert (mine.title, mine.code, mine.elsewhere) == ("Knot print", "KN", None)
    assert (note.words, note.elsewhere) == ("Ours.", None)


def test_what_comes_back_by_way_of_another_shop_is_left_alone(
    session: Session, heron: Session
) -> None:
    file = file_of(heron)
    take_in(session, read_knowledge(file), at=NOON)
    session.flush()
    before = all_rows(heron)[:3]
    back = read_knowledge(write_knowledge(give_out(session, at=LATER)))
    take_in(heron, back, at=LATER)

    assert all_rows(heron)[:3] == before


def test_a_shop_does_not_take_its_own_file_in(heron: Session) -> None:
    with pytest.raises(OwnFileError):
        take_in(heron, read_knowledge(file_of(heron)), at=LATER)


def test_the_counts_of_a_shop_can_be_left_out_and_taken_again(
    session: Session, file: bytes
) -> None:
    take_in(session, read_knowledge(file), at=NOON)
    shop = session.query(Elsewhere).filter(Elsewhere.exported_at.is_not(None)).one()
    leave_counts_out(session, shop.id)

    assert tallies_of(session, "dry-spot").causes == {}
    assert shop.exported_at is None
    assert take_in(session, read_knowledge(file), at=LATER).counts == 3


def spoilt(data: dict[str, Any], path: str, value: Any) -> bytes:
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    held: Any = data
    for step in way:
        held = held[step]
    if value is None:
        del held[last]
    else:
        held[last] = value
    return json.dumps(data).encode()


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("format", "recipes", "no file of shared knowledge"),
        ("fixes.0.steps", [], "there is no step"),
        ("fixes.0.steps.0.cautions", ["ghosts"], "this guide has no caution “ghosts”"),
        ("fixes.0.steps.0.cautions", ["dust", "dust"], "a key is used twice"),
        ("fixes.0.steps.0.cautions", "dust", "a short list of keys"),
        ("fixes.0.outcome", "bury", "it is none of rework, repair, hold"),
        ("fixes.0.key", "sand-it", "begins with own-"),
        ("fixes.0.not_when", "", "words are needed"),
        ("fixes.0.kind", "gremlin!", "that is no key"),
        ("kinds.0.answers", ["face"], "a table is needed here"),
        ("kinds.0.answers", {"Face!": ["tool"]}, "answers by question"),
        ("kinds.0.answers", {"face": "tool"}, "a short list of keys"),
        ("version", "1", "whole number"),
        ("version", True, "whole number"),
        ("version", 0, "whole number"),
        ("exported_at", "yesterday", "no date"),
        ("exported_at", "2026-03-02T12:00:00", "time zone"),
        ("exported_at", "0001-01-01T00:00:00+14:00", "of our time"),
        ("exported_at", 7, "no date"),
        ("shop", [], "a table"),
        ("shop.uid", "../../etc", "no mark"),
        ("shop.name", "", "words are needed"),
        ("shop.name", "Heron\nSlip", "more than a line"),
        ("kinds", {}, "a list"),
        ("kinds", None, "missing"),
        ("kinds.0.key", "dry-spot", "begins with own-"),
        ("kinds.0.key", "own-../x", "no key"),
        ("kinds.0.code", "kp", "two capital letters"),
        ("kinds.0.title", "x" * 61, "longer than 60"),
        ("kinds.0.look", 5, "words are needed"),
        ("kinds.0.look", "", "words are needed"),
        ("kinds.0.look", "\ud800", "no text"),
        ("kinds.0.look", "a\u0000b", "no text"),
        ("kinds.0.look", "x" * 2001, "longer than 2000"),
        ("kinds.0.extra", "x", "not known here"),
        ("causes.0.check_minutes", 3, "not whole"),
        ("causes.1.check_minutes", 1e9, "minutes above 0"),
        ("causes.1.check_minutes", True, "minutes above 0"),
        ("causes.1.check_positive", "", "not whole"),
        ("causes.1.kind", "gremlin", "speaks of the kind “gremlin”"),
        ("notes.0.kind", "gremlin", "speaks of the kind “gremlin”"),
        ("notes.0.uid", "Z", "no mark"),
        ("notes.0", "Vent low.", "a table"),
        ("causes_confirmed.0.confirmed", 10, "from 0 to 9"),
        ("causes_confirmed.0.confirmed", 7.0, "whole number"),
        ("causes_confirmed.0.confirmed", -1, "whole number"),
        ("causes_confirmed.0.of", 8, "do not add up"),
        ("causes_confirmed.1.confirmed", 9, "do not add up"),
        ("fixes_held.0.of", 0, "whole number"),
        ("fixes_held.0.fix", None, "missing"),
    ],
)
def test_a_wrong_file_is_refused_in_a_sentence_and_nothing_is_kept(
    session: Session, file: bytes, path: str, value: Any, words: str
) -> None:
    before = all_rows(session)
    with pytest.raises(KnowledgeFileError) as refused:
        take_in(session, read_knowledge(spoilt(told(file), path, value)), at=NOON)

    assert words in str(refused.value) and "nothing was changed" in str(refused.value)
    assert all_rows(session) == before


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe",
        b"{",
        b"[]",
        b"null",
        b'"defectlog knowledge"',
        b"[" * 100_000,
        b'{"format": "defectlog knowledge", "version": ' + b"9" * 5000 + b"}",
        b'{"format": "defectlog knowledge", "version": NaN}',
        b'{"format": "defectlog knowledge", "format": "defectlog knowledge"}',
        b"PK\x03\x04",
    ],
)
def test_what_is_no_such_file_at_all_is_refused(data: bytes) -> None:
    with pytest.raises(KnowledgeFileError):
        read_knowledge(data)


@pytest.mark.parametrize(
    ("name", "twin"), [("kinds", "key"), ("causes", "key"), ("notes", "uid"), ("fixes_held", "key")]
)
def test_what_is_there_twice_is_refused(file: bytes, name: str, twin: str) -> None:
    data = told(file)
    data[name].append(dict(data[name][0]))
    with pytest.raises(KnowledgeFileError, match=f"a {twin} is used twice"):
        read_knowledge(json.dumps(data).encode())


def of_version_1(file: bytes) -> bytes:
    """The file as it was written before fixes and answers to the key were shared."""
    data = told(file)
    del data["fixes"]
    for kind in data["kinds"]:
        del kind["answers"]
    return json.dumps({**data, "version": 1}).encode()


def test_a_file_of_version_1_is_taken_in_and_takes_nothing_away(
    session: Session, file: bytes
) -> None:
    first = take_in(session, read_knowledge(of_version_1(file)), at=NOON)

    assert (first.kinds, first.causes, first.fixes, first.notes) == (1, 2, 0, 1)
    assert "of version 1, which holds no fixes and no answers to the key" in first.words
    assert take_in(session, read_knowledge(file), at=LATER).fixes == 1
    before = all_rows(session)
    take_in(session, read_knowledge(of_version_1(file)), at=LATER)
    assert all_rows(session) == before


def test_a_step_of_another_shop_is_cautioned_by_its_words(session: Session, file: bytes) -> None:
    data = told(file)
    data["fixes"][0]["steps"] = [{"do": "Wipe with acetone, then sand.", "cautions": []}]
    take_in(session, read_knowledge(json.dumps(data).encode()), at=NOON)

    (fix,) = find_kind(session, data["fixes"][0]["kind"]).fixes
    assert {caution.key for caution in fix.cautions} >= {"solvent", "dust"}


def test_a_file_of_a_newer_version_says_so(file: bytes) -> None:
    with pytest.raises(NewerKnowledgeError, match="newer defectlog"):
        read_knowledge(spoilt(told(file), "version", 3))


def test_a_file_beyond_any_shop_is_not_read(file: bytes) -> None:
    with pytest.raises(KnowledgeTooLargeError):
        read_knowledge(file + b" " * MOST_BYTES)
