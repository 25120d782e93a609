"""The clock of every build of the story: nothing is written down before it can have happened."""

from datetime import UTC, datetime, timedelta

import pytest

from defectlog.demo.conditions import clock_of, facts_of
from defectlog.demo.recipes import RECIPES
from defectlog.demo.shots import shots_of
from defectlog.demo.story import BUILDS
from defectlog.facts import Stage
from defectlog.records import PhotoStage

MONDAY = datetime(2025, 6, 9, 8, 40, tzinfo=UTC)


def all_clocks():
    for number, plan in enumerate(BUILDS, 1):
        for day in range(4):  # nobody starts on a Friday
            start = MONDAY + timedelta(days=day)
            facts = facts_of(plan, number, RECIPES[plan.part], start)
            known = {name: value for stage in facts.values() for name, value in stage.items()}
            yield plan, number, known, clock_of(plan, number, RECIPES[plan.part], start)


def test_cure_demould_and_oven_follow_each_other_with_their_hours_between():
    for _, number, known, clock in all_clocks():
        if "cure_h" not in known:
            continue
        cured = clock.noted(Stage.CURE)
        assert cured - clock.poured >= timedelta(hours=known["cure_h"]), number
        assert clock.demoulded - clock.poured == timedelta(hours=known["demould_after_h"]), number
        assert cured <= clock.demoulded < clock.noted(Stage.DEMOULD) < clock.noted(Stage.WEIGH)
        oven = clock.postcured() - clock.noted(Stage.DEMOULD)
        assert oven >= timedelta(hours=known["postcure_h"]), number


def test_stages_are_noted_in_the_order_of_the_work_and_in_the_daytime():
    for _, number, _, clock in all_clocks():
        noted = [clock.noted(stage) for stage in Stage]
        assert noted == sorted(noted), number
        for moment in (*noted, clock.poured, clock.demoulded, clock.mended(), clock.decided(4)):
            assert 8 <= moment.hour < 18, (number, moment)


def test_nothing_is_mended_photographed_or_decided_on_a_weekend():
    for plan, number, _, clock in all_clocks():
        days = [clock.mended(), clock.decided(), clock.postcured(), clock.demoulded]
        days += [clock.taken(shot) for shot in shots_of(plan, number, RECIPES[plan.part])]
        assert all(moment.weekday() < 5 for moment in days), number
        assert clock.demoulded < clock.mended() < clock.decided()


def test_a_photo_of_a_repair_is_taken_after_it_and_before_the_decision():
    for plan, number, _, clock in all_clocks():
        for shot in shots_of(plan, number, RECIPES[plan.part]):
            if shot.stage is PhotoStage.REPAIRED:
                assert clock.mended() < clock.taken(shot) < clock.decided(3.5)


@pytest.mark.parametrize(
    ("start", "mended"),
    # 2025-06-09 is a Monday (ISO week 24): three working days on.
    [(0, "Thu"), (1, "Fri"), (2, "Mon"), (3, "Tue")],
)
def test_three_working_days_on_skip_the_weekend(start, mended):
    plan = BUILDS[0]
    clock = clock_of(plan, 1, RECIPES[plan.part], MONDAY + timedelta(days=start))

    assert f"{clock.mended():%a}" == mended
