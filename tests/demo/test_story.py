"""The story holds together: what is written down could be typed in, and it tells what it says."""

from datetime import datetime, timedelta
from statistics import mean

import pytest

from defectlog.demo.conditions import facts_of
from defectlog.demo.plot import Process, Progress
from defectlog.demo.recipes import RECIPES
from defectlog.demo.story import BUILDS
from defectlog.derived import derive
from defectlog.facts import FACTS, fact_text, read_fact
from defectlog.guide import library

NOW = datetime(2025, 6, 12, 8, 40)


def known_of(number: int) -> dict:
    plan = BUILDS[number - 1]
    day = NOW - timedelta(days=plan.days_ago)
    stages = facts_of(plan, number, RECIPES[plan.part], day)
    return {name: value for facts in stages.values() for name, value in facts.items()}


@pytest.mark.parametrize("number", range(1, len(BUILDS) + 1))
def test_every_fact_of_a_build_could_have_been_typed_into_its_form(number):
    for name, value in known_of(number).items():
        assert read_fact(FACTS[name], fact_text(FACTS[name], value)) == value, name


def test_every_trouble_is_a_kind_of_the_guide_and_its_causes_are_in_the_entry():
    for plan in BUILDS:
        for trouble in plan.troubles:
            causes = {cause.key for cause in library.kind(trouble.kind).causes}
            named = {cause for cause, _ in trouble.ruled_out} | ({trouble.cause} - {""})
            assert named <= causes, (plan.days_ago, trouble.kind)


def test_builds_follow_one_another_over_fourteen_months_up_to_yesterday():
    days = [plan.days_ago for plan in BUILDS]

    assert days == sorted(days, reverse=True)
    assert 400 < days[0] < 440
    assert days[-1] == 1


def test_bagged_wet_layup_gives_way_to_infusion_for_good():
    processes = [plan.process for plan in BUILDS if not plan.trial]  # panels are no parts

    change = processes.index(Process.INFUSION)
    assert set(processes[:change]) == {Process.BAGGED}
    assert set(processes[change:]) == {Process.INFUSION}
    assert 0.4 < change / len(processes) < 0.6


def test_the_slow_leak_shows_in_the_drop_test_and_nowhere_else():
    leaking = [
        number
        for number in range(1, len(BUILDS) + 1)
        if derive(known_of(number)).get("drop_class") in ("marginal", "fail")
    ]

    assert leaking == list(range(leaking[0], leaking[-1] + 1))
    assert len(leaking) == 4
    assert all(BUILDS[number - 1].fan for number in leaking)


def test_sound_infusions_are_drawn_with_fewer_pits_than_any_bagged_build():
    bagged = [plan.void_pct for plan in BUILDS if plan.process is Process.BAGGED]
    sound = [
        plan.void_pct
        for plan in BUILDS
        if plan.process is Process.INFUSION
        and plan.leak_mbar_min < 2
        and "tack_adhesive" not in plan.facts
        and plan.progress is not Progress.LAID_UP
    ]

    assert max(sound) < min(bagged)
    assert mean(sound) < mean(bagged) / 2


def test_the_peel_ply_tears_only_where_it_was_not_folded_back():
    torn = {
        number: known_of(number)["peel_fold_back_deg"]
        for number, plan in enumerate(BUILDS, 1)
        if any(trouble.kind == "peel-tear" for trouble in plan.troubles)
    }

    assert len(torn) >= 4
    assert max(torn.values()) < 150


def test_every_fix_is_one_the_guide_has_for_its_kind():
    done = [(t.kind, t.fix_key) for plan in BUILDS for t in plan.troubles if t.fix]

    assert len(done) > 10
    for kind, fix_key in done:
        assert fix_key in {fix.key for fix in library.kind(kind).fixes}


def test_a_skipped_lesson_was_learnt_before_on_the_same_part():
    learnt: dict[str, str] = {}
    for plan in BUILDS:
        for label in plan.skips:
            assert learnt[label] == plan.part
        for trouble in plan.troubles:
            if trouble.learnt:
                assert trouble.learnt.label not in learnt
                learnt[trouble.learnt.label] = plan.part


def test_nothing_is_known_of_the_build_on_the_mould_that_comes_after_it():
    known = known_of(len(BUILDS))

    assert BUILDS[-1].progress is Progress.LAID_UP
    assert not {"mass_g", "cure_h", "resin_mixed_g", "peel_fold_back_deg"} & known.keys()
