"""The shop's own kinds, causes and notes: kept, usable everywhere, refused in sentences."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import BuildSet, choose_builds
from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.house_notes import (
    add_note,
    delete_note,
    edit_note,
    notes_of,
    restore_note,
)
from defectlog.bench.kind_bars import kind_bars
from defectlog.bench.kinds import find_kind, key_of, library_of, names_of
from defectlog.bench.next_step import next_step
from defectlog.bench.own_causes import OwnCausePlan, save_own_cause
from defectlog.bench.own_fixes import MOST_STEPS, OwnFixPlan, save_own_fix
from defectlog.bench.own_kinds import (
    KindInUseError,
    OwnKindPlan,
    find_own_kind,
    remove_own_kind,
    save_own_kind,
)
from defectlog.bench.own_rows import delete_own, deleted_own, restore_own
from defectlog.bench.own_words import NotOursError, state_of
from defectlog.bench.parts import LimitPlan
from defectlog.bench.room import room_state
from defectlog.bench.tallies import Tally, tallies_of
from defectlog.bench.why import why
from defectlog.errors import ChangedMeanwhileError, FormError, NotFoundError
from defectlog.guide import library
from defectlog.guide.own import OwnStep
from defectlog.records import Elsewhere, FixResult, OwnCause, OwnFix
from tests.builders import NOON, make_build, make_finding, make_part, make_photo

KELP = OwnKindPlan("Kelp print", "kp", "Green, branched.", "Weed on the mould shows through.")
DUST = OwnCausePlan(
    "Dust from the saw",
    why="It settles on the tack.",
    check_do="Wipe it with a dark cloth.",
    check_positive="the cloth is grey",
    check_minutes=2,
    prevention="Close the saw room.",
)


def kelp(session: Session) -> str:
    return save_own_kind(session, KELP, at=NOON).key


def faults(refused) -> set[str]:
    return {fault.field for fault in refused.value.faults}


def test_an_own_kind_stands_in_its_own_family_with_its_letters(session: Session) -> None:
    key = kelp(session)

    kind = find_kind(session, key)
    assert (kind.title, kind.code, kind.origin) == ("Kelp print", "KP", "this shop")
    family, held = library_of(session).families()[-1]
    assert family.title == "The shop's own" and held == (kind,)
    assert names_of(session).title(key) == "Kelp print"
    assert key.startswith("own-kelp-print-") and len(key) <= 40


def test_an_own_kind_is_marked_limited_counted_and_asked_why(session: Session) -> None:
    key = kelp(session)
    part = make_part(session, limits={key: LimitPlan(largest_mm=5)})
    photo = make_photo(session, make_build(session, part), px_per_mm=10)
    finding = make_finding(session, photo, kind=key)

    state = room_state(session, photo)
    assert {"key": key, "title": "Kelp print", "code": "KP", "family": "workshop"} in state["kinds"]
    assert state["marks"][0]["title"] == "Kelp print"
    assert "limit 5" in state["findings"][0]["size_words"]
    assert kind_bars(session, choose_builds(session, BuildSet(part=part.id))).bars[0].key == key
    asked = why(session, finding)
    assert "no cause is written down" in asked.ranking.verdict
    assert next_step(finding) == "Decide the outcome"


def test_with_a_first_cause_there_is_one_to_find(session: Session) -> None:
    key = kelp(session)
    photo = make_photo(session, make_build(session), px_per_mm=10)
    finding = make_finding(session, photo, kind=key)
    cause = save_own_cause(session, key, DUST, at=NOON)

    assert next_step(finding) == "Find the cause"
    ranking = why(session, finding).ranking
    assert [one.key for one in ranking.causes] == [cause.key, "something-else"]
    assert ranking.next_check and ranking.next_check.check.do == DUST.check_do
    judge_cause(session, finding.id, cause.key, True, seen="grey", at=NOON)
    assert finding.confirmed_cause == cause.key


@pytest.mark.parametrize(
    ("plan", "wrong"),
    [
        (OwnKindPlan("", "KP", "Green.", "Weed."), {"title"}),
        (OwnKindPlan("x" * 61, "KP", "Green.", "Weed."), {"title"}),
        (OwnKindPlan("Dry spot", "KP", "Green.", "Weed."), {"title"}),
        (OwnKindPlan("Kelp", "K", "Green.", "Weed."), {"code"}),
        (OwnKindPlan("Kelp", "K7", "Green.", "Weed."), {"code"}),
        (OwnKindPlan("Kelp", "ÄÖ", "Green.", "Weed."), {"code"}),
        (OwnKindPlan("Kelp", library.kind("dry-spot").code.lower(), "Green.", "Weed."), {"code"}),
        (OwnKindPlan("Kelp", "KP", " ", ""), {"look", "definition"}),
        (OwnKindPlan("Kelp", "KP", "x" * 2001, "Weed."), {"look"}),
    ],
)
def test_a_kind_that_cannot_be_is_refused(session: Session, plan, wrong: set[str]) -> None:
    with pytest.raises(FormError) as refused:
        save_own_kind(session, plan, at=NOON)

    assert faults(refused) == wrong
    assert len(library_of(session).kinds) == len(library.kinds())


def test_two_own_kinds_cannot_have_the_same_letters(session: Session) -> None:
    kelp(session)
    with pytest.raises(FormError, match="KP stands for Kelp print already"):
        save_own_kind(session, OwnKindPlan("Moss", "KP", "Green.", "Moss."), at=NOON)


def test_a_kind_is_changed_and_keeps_key_and_letters(session: Session) -> None:
    key = kelp(session)
    save_own_kind(session, OwnKindPlan("Weed print", "ZZ", "Brown.", "Weed."), at=NOON, key=key)

    kind = find_kind(session, key)
    assert (kind.title, kind.code, kind.look) == ("Weed print", "KP", "Brown.")


def test_a_kind_in_use_is_not_removed_and_one_out_of_use_is(session: Session) -> None:
    key = kelp(session)
    build = make_build(session, make_part(session, limits={key: LimitPlan(largest_mm=5)}))
    finding = open_finding(session, build.id, key, NOON)
    with pytest.raises(KindInUseError, match="1.finding, 1.limit"):
        remove_own_kind(session, key)

    finding.deleted_at = NOON
    build.part.limits.clear()
    note = add_note(session, key, "Scrub the mould.", at=NOON)
    delete_note(session, key, note.id, at=NOON)
    assert remove_own_kind(session, key) == "Kelp print"
    with pytest.raises(NotFoundError):
        find_kind(session, key)
    assert names_of(session).title(key) == key


def test_a_cause_under_a_kind_of_the_guide_is_ranked_there_only(session: Session) -> None:
    row = save_own_cause(session, "dry-spot", DUST, at=NOON)

    cause = find_kind(session, "dry-spot").cause(row.key)
    assert (cause.prior, cause.origin, cause.checks[0].minutes) == ("occasional", "this shop", 2)
    assert cause.preventions[0].do == "Close the saw room."
    assert find_kind(session, "peel-tear") == library.kind("peel-tear")


@pytest.mark.parametrize(
    ("plan", "wrong"),
    [
        (OwnCausePlan(" "), {"title"}),
        (OwnCausePlan(library.kind("dry-spot").causes[0].title.upper()), {"title"}),
        (OwnCausePlan("Dust", check_do="Look."), {"check_positive", "check_minutes"}),
        (OwnCausePlan("Dust", check_minutes=3.0), {"check_do", "check_positive"}),
        (OwnCausePlan("Dust", "", "Look.", "it is grey", 0.0), {"check_minutes"}),
        (OwnCausePlan("Dust", "", "Look.", "it is grey", 1441.0), {"check_minutes"}),
        (OwnCausePlan("Dust", prevention="x" * 2001), {"prevention"}),
    ],
)
def test_a_cause_that_cannot_be_is_refused(session: Session, plan, wrong: set[str]) -> None:
    with pytest.raises(FormError) as refused:
        save_own_cause(session, "dry-spot", plan, at=NOON)

    assert faults(refused) == wrong
    assert find_kind(session, "dry-spot") == library.kind("dry-spot")


def test_a_cause_needs_a_kind(session: Session) -> None:
    with pytest.raises(NotFoundError):
        save_own_cause(session, "gremlin", DUST, at=NOON)


def test_a_cause_is_changed_deleted_and_brought_back(session: Session) -> None:
    key = save_own_cause(session, "dry-spot", DUST, at=NOON).key
    save_own_cause(session, "dry-spot", OwnCausePlan("Sawdust"), at=NOON, key=key)
    assert find_kind(session, "dry-spot").cause(key).checks == ()

    delete_own(session, OwnCause, "dry-spot", key, at=NOON)
    assert find_kind(session, "dry-spot") == library.kind("dry-spot")
    assert [row.title for row in deleted_own(session, OwnCause, "dry-spot")] == ["Sawdust"]
    restore_own(session, OwnCause, "dry-spot", key)
    assert find_kind(session, "dry-spot").causes[-1].title == "Sawdust"


def test_cases_of_a_deleted_cause_count_as_something_else(session: Session) -> None:
    build = make_build(session)
    key = save_own_cause(session, "dry-spot", DUST, at=NOON).key
    for _ in range(3):
        finding = open_finding(session, build.id, "dry-spot", NOON)
        judge_cause(session, finding.id, key, True, seen="", at=NOON)
    delete_own(session, OwnCause, "dry-spot", key, at=NOON)
    fresh = open_finding(session, build.id, "dry-spot", NOON)

    # Kept for something else 10 %, worth ten cases, and three cases of it: (1 + 3) / 13.
    found = why(session, fresh).ranking.cause("something-else")
    assert found.share == pytest.approx(4 / 13)


def test_notes_are_dated_edited_deleted_and_brought_back(session: Session) -> None:
    later = NOON + timedelta(days=3)
    first = add_note(session, "dry-spot", "Vent low.\r\nAlways. ", at=NOON)
    second = add_note(session, "dry-spot", "Ask about the core.", at=later)
    assert first.words == "Vent low.\nAlways."
    assert notes_of(session, "dry-spot").kept == (second, first)

    edit_note(session, "dry-spot", first.id, "Vent at the low corner.", at=later)
    assert (first.words, first.changed_at) == ("Vent at the low corner.", later)
    delete_note(session, "dry-spot", first.id, at=later)
    assert notes_of(session, "dry-spot").kept == (second,)
    assert notes_of(session, "dry-spot").deleted == (first,)
    restore_note(session, "dry-spot", first.id)
    assert notes_of(session, "dry-spot").kept == (second, first)


def test_a_note_that_cannot_be_is_refused(session: Session) -> None:
    for words in ("  ", "x" * 2001):
        with pytest.raises(FormError):
            add_note(session, "dry-spot", words, at=NOON)
    with pytest.raises(NotFoundError):
        add_note(session, "gremlin", "Boo.", at=NOON)
    note = add_note(session, "dry-spot", "Vent low.", at=NOON)
    with pytest.raises(NotFoundError):
        edit_note(session, "peel-tear", note.id, "Moved.", at=NOON)


def test_what_came_from_another_shop_stays_as_it_was_written(session: Session) -> None:
    shop = Elsewhere(uid="a1", name="Heron Slip", imported_at=NOON)
    session.add(shop)
    key = kelp(session)
    cause = save_own_cause(session, "dry-spot", DUST, at=NOON)
    note = add_note(session, "dry-spot", "Vent low.", at=NOON)

    for row in (find_own_kind(session, key), cause, note):
        row.elsewhere = shop
    session.flush()

    with pytest.raises(NotOursError, match="came from Heron Slip"):
        save_own_kind(session, KELP, at=NOON, key=key)
    with pytest.raises(NotOursError):
        save_own_cause(session, "dry-spot", DUST, at=NOON, key=cause.key)
    with pytest.raises(NotOursError):
        edit_note(session, "dry-spot", note.id, "Vent high.", at=NOON)


WASH = OwnFixPlan(
    "Wash and key",
    "rework",
    (OwnStep("Wash it with hand-hot water."), OwnStep("Sand it dull.", ("dust",))),
    "A nail leaves a dent.\n\nFibres are bare. ",
    "Water stands on it as a film.",
    "30 min",
)


def test_an_own_fix_stands_under_its_kind_with_its_cautions_and_is_counted(
    session: Session,
) -> None:
    key = kelp(session)
    row = save_own_fix(session, key, WASH, at=NOON)

    (fix,) = find_kind(session, key).fixes
    assert (fix.title, fix.outcome, fix.time, fix.origin) == (
        "Wash and key",
        "rework",
        "30 min",
        "this shop",
    )
    assert fix.not_when == ("A nail leaves a dent.", "Fibres are bare.")
    assert [[c.key for c in step.cautions] for step in fix.steps] == [[], ["dust"]]
    finding = open_finding(session, make_build(session).id, key, NOON)
    done = record_fix(session, finding.id, "Washed", minutes=30, at=NOON, fix_key=row.key)
    look_again(session, finding.id, done.id, FixResult.HELD, at=NOON)
    assert tallies_of(session, key).fixes == {row.key: (Tally(1, 1),)}


def test_an_own_fix_may_stand_under_a_kind_of_the_guide(session: Session) -> None:
    row = save_own_fix(session, "dry-spot", WASH, at=NOON)
    assert find_kind(session, "dry-spot").fixes[-1].key == row.key
    with pytest.raises(FormError, match="has that fix already"):
        save_own_fix(session, "dry-spot", WASH, at=NOON)

    save_own_fix(session, "dry-spot", replace(WASH, title="Wash"), at=NOON, key=row.key)
    delete_own(session, OwnFix, "dry-spot", row.key, at=NOON)
    assert find_kind(session, "dry-spot") == library.kind("dry-spot")
    assert [one.title for one in deleted_own(session, OwnFix, "dry-spot")] == ["Wash"]
    restore_own(session, OwnFix, "dry-spot", row.key)
    assert find_kind(session, "dry-spot").fixes[-1].title == "Wash"


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"title": " "}, {"title"}),
        ({"outcome": "bury"}, {"outcome"}),
        ({"not_when": " \n"}, {"not_when"}),
        ({"steps": ()}, {"step-1"}),
        ({"steps": (OwnStep("Wash."),) * (MOST_STEPS + 1)}, {f"step-{MOST_STEPS}"}),
        ({"steps": (OwnStep("Wash."), OwnStep("x" * 2001))}, {"step-2"}),
        ({"steps": (OwnStep("Wash.", ("ghosts",)),)}, {"step-1"}),
        ({"time": "x" * 81}, {"time"}),
    ],
)
def test_a_fix_that_cannot_be_is_refused(session: Session, change, wrong: set[str]) -> None:
    with pytest.raises(FormError) as refused:
        save_own_fix(session, "dry-spot", replace(WASH, **change), at=NOON)

    assert faults(refused) == wrong
    assert find_kind(session, "dry-spot") == library.kind("dry-spot")


@pytest.mark.parametrize(
    ("do", "chosen", "told"),
    [
        ("Wipe with acetone.", (), "“acetone” in step 1 can hurt somebody.*tick “"),
        ("Sand, then wipe with solvent.", ("dust",), "“solvent” in step 1"),
    ],
)
def test_a_step_that_names_a_hazard_needs_its_caution(
    session: Session, do: str, chosen: tuple[str, ...], told: str
) -> None:
    with pytest.raises(FormError, match=told):
        save_own_fix(session, "dry-spot", replace(WASH, steps=(OwnStep(do, chosen),)), at=NOON)


def test_answers_bring_an_own_kind_into_the_key(session: Session) -> None:
    key = kelp(session)
    assert key not in key_of(session)[1].signs

    plan = replace(KELP, answers={"face": ("tool",), "shape": ("pattern", "patch"), "feel": ()})
    save_own_kind(session, plan, at=NOON, key=key)
    kinds, data = key_of(session)
    assert kinds[-1].key == key
    assert data.signs[key].words["shape"]["patch"] == "usual"
    with pytest.raises(FormError, match="not one of the key's"):
        save_own_kind(session, replace(KELP, answers={"face": ("moon",)}), at=NOON, key=key)


def test_a_form_opened_on_other_words_overwrites_nothing(session: Session) -> None:
    key = kelp(session)
    kind = find_own_kind(session, key)
    cause = save_own_cause(session, "dry-spot", DUST, at=NOON)
    fix = save_own_fix(session, "dry-spot", WASH, at=NOON)
    note = add_note(session, "dry-spot", "Vent low.", at=NOON)

    def saves(opened_on: str):
        return {
            kind: lambda: save_own_kind(
                session, replace(KELP, look="Red."), at=NOON, key=key, opened_on=opened_on
            ),
            cause: lambda: save_own_cause(
                session, "dry-spot", OwnCausePlan("A"), at=NOON, key=cause.key, opened_on=opened_on
            ),
            fix: lambda: save_own_fix(
                session,
                "dry-spot",
                replace(WASH, title="B"),
                at=NOON,
                key=fix.key,
                opened_on=opened_on,
            ),
            note: lambda: edit_note(
                session, "dry-spot", note.id, "Vent high.", at=NOON, opened_on=opened_on
            ),
        }

    for row in saves(""):
        before = state_of(row)
        with pytest.raises(ChangedMeanwhileError, match="changed on another screen meanwhile"):
            saves("0123456789abcdef")[row]()
        assert state_of(row) == before
        saves(before)[row]()
        assert state_of(row) != before


def test_what_was_deleted_meanwhile_is_said_and_comes_back_if_saved_again(
    session: Session,
) -> None:
    note = add_note(session, "dry-spot", "Vent low.", at=NOON)
    opened_on = state_of(note)
    delete_note(session, "dry-spot", note.id, at=NOON)

    with pytest.raises(ChangedMeanwhileError, match="deleted on another screen"):
        edit_note(session, "dry-spot", note.id, "Vent high.", at=NOON, opened_on=opened_on)
    edit_note(session, "dry-spot", note.id, "Vent high.", at=NOON, opened_on=state_of(note))
    assert notes_of(session, "dry-spot").kept == (note,)
