"""Builds are started, their facts written down as they become known, and released when decided."""

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.builds import (
    OpenFindingsError,
    begun_just_now,
    drop_test_words,
    find_build,
    mass_words,
    release_build,
    resin_words,
    save_facts,
    save_note,
)
from defectlog.bench.decisions import decide
from defectlog.bench.parts import LimitPlan, PartPlan, save_part
from defectlog.errors import ChangedMeanwhileError, FormError, NotFoundError
from defectlog.records import Outcome
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


def test_facts_are_added_changed_and_taken_back_one_by_one(session: Session) -> None:
    build = make_build(session, process="infusion", mass_g=412.5)
    save_facts(session, build.id, {"mass_g": 410.0, "cure_c": 23.0}, NOON)
    save_facts(session, build.id, {"cure_c": None}, NOON)

    assert build.known == {"process": "infusion", "mass_g": 410.0}


def test_facts_changed_both_here_and_elsewhere_are_all_told_and_none_is_saved(
    session: Session,
) -> None:
    build = make_build(session, mass_g=410.0, area_dm2=21.0, effort_min=60.0)
    seen = {"mass_g": 400.0, "area_dm2": 20.0, "effort_min": 60.0}
    typed = {"mass_g": 405.0, "area_dm2": 22.0, "effort_min": 75.0}

    with pytest.raises(ChangedMeanwhileError) as refused:
        save_facts(session, build.id, typed, NOON, seen=seen)

    assert [fault.field for fault in refused.value.faults] == ["mass_g", "area_dm2"]
    assert build.known == {"mass_g": 410.0, "area_dm2": 21.0, "effort_min": 60.0}


@pytest.mark.parametrize(
    ("seconds", "facts", "has_photo", "is_that_one"),
    [
        (1, {}, False, True),
        (119, {}, False, True),
        (121, {}, False, False),
        (1, {"process": "infusion"}, False, False),
        (1, {}, True, False),
        # A clock that was set back does not make a build of the future.
        (-1, {}, False, False),
    ],
)
def test_a_build_just_begun_with_nothing_on_it_is_the_one_meant(
    session: Session, seconds: int, facts: dict, has_photo: bool, is_that_one: bool
) -> None:
    build = make_build(session, **facts)
    if has_photo:
        make_photo(session, build)
    make_build(session, make_part(session, "Bow bulkhead"))

    found = begun_just_now(session, build.part_id, NOON + timedelta(seconds=seconds))

    assert (found is build) == is_that_one


def test_a_build_with_an_open_finding_is_not_released(session: Session) -> None:
    build = make_build(session)
    finding = make_finding(session, make_photo(session, build))
    session.expire(build)
    with pytest.raises(OpenFindingsError, match="one finding is open"):
        release_build(session, build.id, NOON)

    decide(session, finding.id, Outcome.SCRAP, reason="", at=NOON)
    assert release_build(session, build.id, NOON).is_released


def test_an_unknown_build_is_a_sentence(session: Session) -> None:
    with pytest.raises(NotFoundError, match="no build 99"):
        find_build(session, 99)


def test_figures_of_a_build_are_said_with_their_units() -> None:
    drop = drop_test_words({"drop_start_mbar": 11, "drop_end_mbar": 14, "drop_minutes": 20})
    assert drop.words.replace("\N{NO-BREAK SPACE}", " ") == "0.15 mbar/min: tight"
    # By hand: 190 g mixed on a plan of 142 g is 33.8 % more, 41 of 190 g left is 21.6 %.
    resin = resin_words({"resin_planned_g": 142, "resin_mixed_g": 190, "resin_left_g": 41})
    assert "34 % more than planned" in resin.words and "22 % of it" in resin.words
    assert "3 % over" in mass_words({"mass_g": 412}, 400).words
    assert mass_words({}, 400) is None


def test_what_cannot_be_is_said_instead_of_a_class(session: Session) -> None:
    # 100 to 50 mbar: pressure in a closed bag does not fall.
    drop = drop_test_words({"drop_start_mbar": 100, "drop_end_mbar": 50, "drop_minutes": 10})
    assert "says nothing about leaks" in drop.words and drop.standing == "near"
    # A flicker of the gauge is a tight bag: (11.8 - 12) / 10 = -0.02 mbar/min.
    flicker = drop_test_words({"drop_start_mbar": 12, "drop_end_mbar": 11.8, "drop_minutes": 10})
    assert flicker.standing == "within"
    resin = resin_words({"resin_mixed_g": 100, "resin_left_g": 200})
    assert "more than was mixed" in resin.words and resin.standing == "near"


def test_a_remark_is_kept_whole_or_refused(session: Session) -> None:
    build = make_build(session)
    save_note(session, build.id, "a\r\n" * 2000)  # 4000 characters as a text field counts them
    assert build.note == ("a\n" * 2000).strip()
    with pytest.raises(FormError, match="over 4000 characters"):
        save_note(session, build.id, "x" * 4001)


def test_remarks_of_two_screens_are_both_kept(session: Session) -> None:
    build = make_build(session)
    save_note(session, build.id, "edge dry", seen="")
    save_note(session, build.id, "bag slack", seen="")  # its screen was opened before the first
    assert build.note == "edge dry\nbag slack"
    save_note(session, build.id, "bag slack, edge dry", seen=build.note)
    assert build.note == "bag slack, edge dry"


def test_a_name_with_an_emoji_of_several_pieces_is_kept(session: Session) -> None:
    # Woman, zero-width joiner, microscope: one picture on the screen.
    name = "Lid \U0001f469\u200d\U0001f52c"
    assert save_part(session, PartPlan(name=f" {name}\t")).name == name


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        (PartPlan(name="\u202e \0"), "no name"),
        (PartPlan(name="Lid", target_mass_g=1e30), "over a tonne"),
        (PartPlan(name="Lid", laminate_plan="x" * 4001), "longer than 4000"),
        (PartPlan(name="Locker\r\ndoor"), "called Locker door already"),
        (PartPlan(name="  "), "no name"),
        (PartPlan(name="x" * 81), "longer than 80"),
        (PartPlan(name="Lid", target_mass_g=0), "not above 0"),
        (PartPlan(name="Lid", limits={"dry-spot": LimitPlan(largest_mm=-1)}), "negative"),
        (PartPlan(name="locker DOOR"), "called Locker door already"),
    ],
)
def test_a_part_that_cannot_be_is_refused(session: Session, plan: PartPlan, words: str) -> None:
    make_part(session)
    with pytest.raises(FormError, match=words):
        save_part(session, plan)


def test_limits_are_added_changed_and_removed(session: Session) -> None:
    part = make_part(session, limits={"dry-spot": LimitPlan(9.5), "peel-tear": LimitPlan(0)})
    plan = PartPlan(name=part.name, limits={"dry-spot": LimitPlan(14), "peel-tear": LimitPlan()})
    save_part(session, plan, part.id)

    assert [(limit.kind, limit.largest_mm) for limit in part.limits] == [("dry-spot", 14)]
