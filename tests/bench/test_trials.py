"""A trial from its plan to its verdict, on real records."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.builds import release_build, save_facts
from defectlog.bench.layup_sheet import layup_sheet
from defectlog.bench.same_again import proposal
from defectlog.bench.trial_deal import TrialPlan, plan_trial
from defectlog.bench.trial_verdict import TrialNotInError, decide_trial, showing, trial_table
from defectlog.bench.trials import (
    TrialOverError,
    find_trial,
    list_trials,
    look_early,
    lose_run,
    may_see,
    progress,
    start_run,
    stop_trial,
)
from defectlog.errors import FormError, NotFoundError
from defectlog.facts import Stage
from defectlog.records import Build, Trial, TrialResult, TrialState
from tests.builders import NOON, make_build, make_finding, make_part, make_photo
from tests.measured import add_measurement


def plan_of(part, **more) -> TrialPlan:
    given = {
        "part_id": part.id,
        "question": "Does a mist of tack adhesive on the mould cost voids?",
        "fact": "tack_adhesive",
        "settings": ("none", "light"),
        "result": TrialResult.VOIDS,
        "smallest_difference": 0.001,
        "per_setting": 3,
    }
    return TrialPlan(**(given | more))


@pytest.fixture
def part(session: Session):
    return make_part(session, "Test panel")


@pytest.fixture
def trial(session: Session, part) -> Trial:
    return plan_trial(session, plan_of(part), at=NOON, seed=11)


def make_panels(session: Session, trial: Trial, values: dict[str, list[float]]) -> None:
    """Make as many panels of each setting as there are values, in the order of the trial."""
    left = {setting: list(of) for setting, of in values.items()}
    for run in trial.runs:
        if left[run.value]:
            build = start_run(session, trial.id, run.number, at=NOON)
            add_measurement(session, make_photo(session, build), left[run.value].pop(0))


def test_the_order_is_made_in_rounds_and_its_seed_is_kept(session, part, trial) -> None:
    again = plan_trial(session, plan_of(part), at=NOON, seed=trial.seed)

    assert [run.number for run in trial.runs] == [1, 2, 3, 4, 5, 6]
    for first in range(0, 6, 2):
        assert {run.value for run in trial.runs[first : first + 2]} == {"none", "light"}
    assert [run.setting for run in again.runs] == [run.setting for run in trial.runs]
    assert [run.block for run in trial.runs] == [1, 1, 2, 2, 3, 3]


def test_a_build_is_made_only_when_its_panel_is_started(session: Session, trial: Trial) -> None:
    assert session.query(Build).count() == 0

    first = trial.runs[0]
    build = start_run(session, trial.id, 1, at=NOON)

    assert session.query(Build).count() == 1
    assert build.known == {"tack_adhesive": first.value}
    assert start_run(session, trial.id, 1, at=NOON) is build
    assert progress(session, trial).next_run is trial.runs[1]


def test_the_lay_up_sheet_says_which_panel_it_is(session: Session, trial: Trial) -> None:
    build = start_run(session, trial.id, 1, at=NOON)
    words = {"none": "none", "light": "light mist"}[trial.runs[0].value]

    sheet = layup_sheet(session, build.id)

    assert sheet.trial == f"Panel 1 of trial {trial.id}, tack adhesive: {words}."
    assert sheet.settings["tack_adhesive"] == trial.runs[0].value
    assert layup_sheet(session, make_build(session, trial.part).id).trial == ""


def test_what_a_trial_set_is_neither_a_habit_nor_in_the_way_of_one(session, part) -> None:
    make_build(session, part, core="balsa", tack_adhesive="none")
    trial = plan_trial(session, plan_of(part), at=NOON, seed=11)
    heavy = next(run for run in trial.runs if run.value == "light")
    build = start_run(session, trial.id, heavy.number, at=NOON)

    assert proposal(session, build, Stage.LAYUP).facts == {"core": "balsa"}

    save_facts(session, build.id, {"core": "balsa"}, NOON)
    later = make_build(session, part)
    assert "tack_adhesive" not in proposal(session, later, Stage.LAYUP).facts


def test_no_verdict_before_every_panel_is_in(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.002, 0.0021], "light": [0.004]})

    with pytest.raises(TrialNotInError, match="waits for 3 of 6"):
        decide_trial(session, trial.id, at=NOON)
    assert showing(session, trial, progress(session, trial)) is None


def test_the_verdict_is_the_interval_of_welch(session: Session, trial: Trial) -> None:
    # Means 0.20 and 0.40 %, both spreads 0.01 points, so the standard error is 0.01 · √(2/3) =
    # 0.008165 points; t(0.975, 4) = 2.776 (NIST/SEMATECH e-Handbook, table 1.3.6.7.2) makes the
    # reach 0.0227 points.
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})

    decided = decide_trial(session, trial.id, at=NOON)

    (sentence,) = decided.verdict["sentences"]
    assert "0.40\N{NO-BREAK SPACE}%" in sentence and "0.20\N{NO-BREAK SPACE}%" in sentence
    assert "0.2\N{NO-BREAK SPACE}points higher" in sentence
    assert "interval of the difference 0.18 to 0.22\N{NO-BREAK SPACE}points" in sentence
    assert "more than the 0.1\N{NO-BREAK SPACE}points that matter" in sentence
    # Six panels dealt into three and three: 2 of the 20 ways are as far apart.
    assert any(
        "20 of them" in words and "10\N{NO-BREAK SPACE}%" in words
        for words in decided.verdict["asides"]
    )


def test_the_verdict_stands_whatever_is_measured_later(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})
    decide_trial(session, trial.id, at=NOON)
    before = showing(session, trial, progress(session, trial))

    add_measurement(session, trial.runs[0].build.photos[0], 0.5)

    assert showing(session, trial, progress(session, trial)) == before
    with pytest.raises(TrialOverError):
        decide_trial(session, trial.id, at=NOON)


def test_no_difference_shown_says_what_would_have_been_seen(session, trial) -> None:
    # Spread 0.01 points in both; three of each show 3.07 of them (tests/charts/test_plan.py).
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.002, 0.0021, 0.0019]})

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert sentence.startswith("No difference shown")
    assert (
        "one of 0.031\N{NO-BREAK SPACE}points or more would have shown in 4 of 5 such trials"
        in (sentence)
    )
    assert "smaller than the 0.1" in sentence


def test_equal_values_everywhere_are_no_difference(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0] * 3, "light": [0.0] * 3})

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert sentence.startswith("No difference shown") and "nan" not in sentence


def test_values_without_any_spread_are_not_taken_for_proof(session, part) -> None:
    # Two against two: chance alone deals them so in 2 of 6 ways, however narrow the interval.
    trial = plan_trial(session, plan_of(part, per_setting=2), at=NOON, seed=1)
    make_panels(session, trial, {"none": [0.0, 0.0], "light": [0.01, 0.01]})

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert sentence.startswith("No difference shown")


def test_an_early_look_is_allowed_counted_and_told(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002], "light": [0.0039, 0.004]})
    assert not may_see(trial, progress(session, trial))

    look_early(session, trial.id, at=NOON)
    look_early(session, trial.id, at=NOON)  # the same four panels: no new look

    assert [look.panels_in for look in trial.looks] == [4]
    assert (
        "looked early, with 4 of 6" in showing(session, trial, progress(session, trial)).asides[0]
    )

    for run, value in zip(trial.runs[4:], (0.002, 0.004), strict=True):
        build = start_run(session, trial.id, run.number, at=NOON)
        add_measurement(session, make_photo(session, build), value)
    assert not may_see(trial, progress(session, trial))
    decided = decide_trial(session, trial.id, at=NOON)
    assert "looked early" in decided.verdict["asides"][0]


def test_a_lost_panel_is_waited_for_no_longer_and_named(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004]})
    last = next(run for run in trial.runs if run.build_id is None)
    with pytest.raises(FormError, match="for a reason"):
        lose_run(session, trial.id, last.number, reason=" ")

    lose_run(session, trial.id, last.number, reason="Dropped at demould.")

    assert progress(session, trial).is_complete
    decided = decide_trial(session, trial.id, at=NOON)
    assert any("was lost: Dropped at demould." in words for words in decided.verdict["asides"])


def test_a_loss_can_be_taken_back(session: Session, trial: Trial) -> None:
    lose_run(session, trial.id, 1, reason="Torn")
    assert progress(session, trial).next_run.number == 2

    lose_run(session, trial.id, 1, reason="")
    assert progress(session, trial).next_run.number == 1


def test_too_few_panels_left_give_no_verdict(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.004]})
    for run in trial.runs:
        if run.build_id is None:
            lose_run(session, trial.id, run.number, reason="Resin ran out")

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert sentence.startswith("No verdict")


def test_within_days_the_weather_of_the_day_drops_out(session: Session, part) -> None:
    # Differences within the days 0.10, 0.12 and 0.08 points, though days differ by whole points:
    # mean 0.10, s = 0.02, reach 4.303 · 0.02 / √3 = 0.05 (t(0.975, 2), NIST table 1.3.6.7.2).
    trial = plan_trial(session, plan_of(part, by_day=True), at=NOON, seed=3)
    make_panels(session, trial, {"none": [0.01, 0.02, 0.03], "light": [0.0110, 0.0212, 0.0308]})

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert "0.1\N{NO-BREAK SPACE}points higher" in sentence
    assert "difference 0.05 to 0.15\N{NO-BREAK SPACE}points" in sentence


def test_three_settings_share_the_false_alarms(session: Session, part) -> None:
    plan = plan_of(part, settings=("none", "light", "heavy"))
    trial = plan_trial(session, plan, at=NOON, seed=3)
    make_panels(
        session,
        trial,
        {"none": [0.001, 0.002, 0.003], "light": [0.002, 0.003, 0.004], "heavy": [0.03] * 3},
    )

    verdict = decide_trial(session, trial.id, at=NOON).verdict

    assert len(verdict["sentences"]) == 2
    assert "97.5\N{NO-BREAK SPACE}% interval" in verdict["sentences"][0]
    assert any("share the 5 %" in words for words in verdict["asides"])


def test_mass_and_working_time_stand_beside(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})
    for run in trial.runs:
        mass = 200.0 + run.block + (10 if run.value == "light" else 0)
        save_facts(session, run.build_id, {"mass_g": mass}, NOON)

    (beside,) = decide_trial(session, trial.id, at=NOON).verdict["beside"]

    assert beside.startswith("Mass: 212\N{NO-BREAK SPACE}g with “light mist”, 202")


def test_findings_count_once_a_panel_is_released(session: Session, part) -> None:
    plan = plan_of(
        part, result=TrialResult.FINDINGS, kind="tacky-adhesive", smallest_difference=1.0
    )
    trial = plan_trial(session, plan, at=NOON, seed=3)
    build = start_run(session, trial.id, 1, at=NOON)
    photo = make_photo(session, build)
    assert progress(session, trial).values == {}

    release_build(session, build.id, NOON)
    assert progress(session, trial).values == {build.id: 0.0}
    make_finding(session, photo, kind="tacky-adhesive")
    assert progress(session, trial).values == {build.id: 1.0}


def test_a_setting_changed_by_hand_is_told_in_the_verdict(session: Session, trial: Trial) -> None:
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})
    save_facts(session, trial.runs[0].build_id, {"tack_adhesive": "heavy"}, NOON)

    said = decide_trial(session, trial.id, at=NOON).verdict["asides"]

    assert any("says otherwise" in words for words in said)


def test_a_stopped_trial_keeps_its_reason_and_starts_nothing(session, trial) -> None:
    with pytest.raises(FormError, match="for a reason"):
        stop_trial(session, trial.id, reason="")
    stop_trial(session, trial.id, reason="The can is no longer sold.")

    assert trial.state is TrialState.STOPPED
    with pytest.raises(TrialOverError):
        start_run(session, trial.id, 1, at=NOON)


def test_running_trials_come_first(session: Session, part, trial: Trial) -> None:
    newer = plan_trial(session, plan_of(part), at=NOON)
    stop_trial(session, newer.id, reason="Asked twice.")

    assert list_trials(session) == [trial, newer]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"question": " "}, "question"),
        ({"question": "?" * 201}, "question"),
        ({"fact": "mass_g"}, "fact"),
        ({"fact": "no-such-fact"}, "fact"),
        ({"settings": ("none",)}, "setting-1"),
        ({"settings": ("none", "none")}, "setting-2"),
        ({"smallest_difference": 0.0}, "difference"),
        ({"smallest_difference": float("nan")}, "difference"),
        ({"per_setting": 1}, "panels"),
        ({"per_setting": 51}, "panels"),
        ({"result": TrialResult.FINDINGS, "kind": "no-such-kind"}, "kind"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_at_its_field(session, part, change, field) -> None:
    with pytest.raises(FormError) as refused:
        plan_trial(session, plan_of(part, **change), at=NOON)

    assert [fault.field for fault in refused.value.faults] == [field]


def test_a_trial_or_panel_there_is_not_is_not_found(session: Session, trial: Trial) -> None:
    with pytest.raises(NotFoundError):
        find_trial(session, 99)
    with pytest.raises(NotFoundError):
        start_run(session, trial.id, 7, at=NOON)


def test_the_table_of_a_decided_trial_holds_the_values_the_verdict_was_given_on(session, trial):
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})
    decide_trial(session, trial.id, at=NOON)
    add_measurement(session, trial.runs[0].build.photos[0], 0.5)

    heading, *rows = trial_table(trial, showing(session, trial, progress(session, trial)))

    made = [dict(zip(heading, row, strict=True)) for row in rows]
    assert [row["panel"] for row in made] == [1, 2, 3, 4, 5, 6]
    assert [row["build"] for row in made] == [run.build_id for run in trial.runs]
    values = sorted(row["value"] for row in made)
    assert values == pytest.approx([0.0019, 0.002, 0.0021, 0.0039, 0.004, 0.0041])
    assert {row["unit"] for row in made} == {"fraction"}


def test_a_lost_panel_keeps_its_row_and_its_reason_without_a_value(session, trial):
    make_panels(session, trial, {"none": [0.0019, 0.002, 0.0021], "light": [0.0039, 0.004, 0.0041]})
    lose_run(session, trial.id, 2, reason="Dropped")
    decide_trial(session, trial.id, at=NOON)

    rows = trial_table(trial, showing(session, trial, progress(session, trial)))

    assert rows[2][-2:] == [None, "Dropped"]
    assert sum(row[-2] is not None for row in rows[1:]) == 5
