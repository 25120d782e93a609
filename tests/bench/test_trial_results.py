"""Everything a comparison can judge builds by, a trial can be judged by too."""

from dataclasses import replace

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts
from defectlog.bench.fixes import record_fix
from defectlog.bench.results import RESULTS
from defectlog.bench.trial_deal import TO_VARY, TrialPlan, plan_trial
from defectlog.bench.trial_plan import CountSpread, guessed, known_spread, size_trial
from defectlog.bench.trial_results import MEASURES, measure_on, panel_values
from defectlog.bench.trial_verdict import decide_trial, trial_table
from defectlog.bench.trial_words import state_words
from defectlog.bench.trials import progress, start_run
from defectlog.charts.plan import smallest_rate_shown
from defectlog.errors import FormError
from defectlog.facts import FACTS
from defectlog.records import Build, Face, TrialResult
from tests.builders import NOON, make_build, make_finding, make_part, make_photo
from tests.measured import add_measurement

DM2 = 10_000.0  # mm²
NBSP = "\N{NO-BREAK SPACE}"


@pytest.fixture
def part(session: Session):
    return make_part(session, "Test panel")


def give(session: Session, build: Build, result: TrialResult, value: int) -> None:
    """Let a build come to so much, by whatever a person would do for it."""
    facts = {
        TrialResult.MASS: "mass_g",
        TrialResult.RESIN_LEFT: "resin_left_g",
        TrialResult.EFFORT: "effort_min",
    }
    if result in facts:
        save_facts(session, build.id, {facts[result]: float(value)}, NOON)
        return
    photo = make_photo(session, build)
    if result is TrialResult.FINDINGS:
        for _ in range(value):
            make_finding(session, photo)
    elif result is TrialResult.REWORK:
        finding = make_finding(session, photo)
        record_fix(session, finding.id, "fill-and-refinish", minutes=float(value), at=NOON)
    else:
        add_measurement(
            session, photo, value / 1000, mm2=4 * DM2, count=4 * value, largest_mm=float(value)
        )
    build.released_at = NOON
    session.flush()


def test_every_result_of_the_trends_can_be_asked_of_a_trial() -> None:
    assert {measure.key for measure in MEASURES.values()} == set(RESULTS)
    assert set(MEASURES) == set(TrialResult)


@pytest.mark.parametrize(
    ("result", "difference", "said"),
    [
        (TrialResult.VOIDS, 0.001, f"1{NBSP}points higher"),
        (TrialResult.PINHOLES, 1.0, f"10{NBSP}per dm² higher"),
        (TrialResult.LARGEST, 1.0, f"10{NBSP}mm higher"),
        (TrialResult.FINDINGS, 1.0, f"10{NBSP}a panel higher"),
        (TrialResult.MASS, 1.0, f"10{NBSP}g higher"),
        (TrialResult.RESIN_LEFT, 1.0, f"10{NBSP}g higher"),
        (TrialResult.EFFORT, 1.0, f"10{NBSP}min higher"),
        (TrialResult.REWORK, 1.0, f"10{NBSP}min higher"),
    ],
)
def test_a_trial_is_judged_by_any_result(session, part, result, difference, said) -> None:
    # First 3, 4, 5 with a mean of 4, then 13, 14, 15 with a mean of 14.
    plan = TrialPlan(part.id, "Is it heat?", "ambient_c", (18.0, 25.0), result, difference, 3)
    trial = plan_trial(session, plan, at=NOON, seed=2)
    left = {18.0: [3, 4, 5], 25.0: [13, 14, 15]}
    for run in trial.runs:
        build = start_run(session, trial.id, run.number, at=NOON)
        give(session, build, result, left[run.value].pop())

    verdict = decide_trial(session, trial.id, at=NOON).verdict

    assert said in verdict["sentences"][0], verdict
    assert f"“25{NBSP}°C”" in verdict["sentences"][0]
    counted = any("compared as rates" in words for words in verdict["asides"])
    assert counted == (result in (TrialResult.PINHOLES, TrialResult.FINDINGS))
    rows = trial_table(trial, None)
    assert rows[1][4] == measure_on(result, "tool-demould").title


def test_pinholes_without_a_scale_wait(session: Session, part) -> None:
    build = make_build(session, part)
    add_measurement(session, make_photo(session, build), 0.01, mm2=None, count=3)

    assert panel_values(session, part.id, TrialResult.VOIDS).keys() == {build.id}
    assert panel_values(session, part.id, TrialResult.PINHOLES) == {}


def test_the_bag_side_is_not_taken_for_the_tool_side(session: Session, part) -> None:
    photo = make_photo(session, make_build(session, part))
    photo.face = Face.BAG
    add_measurement(session, photo, 0.01, count=3)

    assert panel_values(session, part.id, TrialResult.PINHOLES) == {}
    bag = panel_values(session, part.id, TrialResult.PINHOLES, surface="bag-demould")
    assert [one.count for one in bag.values()] == [3]


def test_a_trial_of_the_bag_side_waits_for_the_bag_side(session: Session, part) -> None:
    plan = TrialPlan(
        part.id, "?", "degassed", (True, False), TrialResult.VOIDS, 0.001, 2, surface="bag-demould"
    )
    trial = plan_trial(session, plan, at=NOON, seed=2)
    for run, face in zip(trial.runs, (Face.TOOL, Face.BAG, Face.BAG, Face.BAG), strict=True):
        photo = make_photo(session, start_run(session, trial.id, run.number, at=NOON))
        photo.face = face
        add_measurement(session, photo, 0.002)

    come = progress(session, trial)

    assert sorted(come.values) == [run.build_id for run in trial.runs[1:]]
    assert "once its bag side at demould is measured" in state_words(trial, come)
    assert trial_table(trial, None)[1][4] == "void fraction, bag side at demould"
    with pytest.raises(FormError):
        plan_trial(session, replace(plan, surface="lid"), at=NOON)


def test_findings_of_all_kinds_count_where_none_is_named(session: Session, part) -> None:
    build = make_build(session, part)
    photo = make_photo(session, build)
    make_finding(session, photo, kind="dry-spot")
    make_finding(session, photo, kind="tacky-adhesive")
    build.released_at = NOON
    session.flush()

    every = panel_values(session, part.id, TrialResult.FINDINGS)
    one = panel_values(session, part.id, TrialResult.FINDINGS, "dry-spot")

    assert (every[build.id].count, one[build.id].count) == (2, 1)


def test_counts_on_record_size_a_trial_by_their_rate_and_excess(session: Session, part) -> None:
    # On 4 dm² each 4, 8, 12 and 16 pinholes: 40 on 16 dm² are 2.5 per dm². Expected 10 each, so
    # the excess is (36 + 4 + 4 + 36) / 10 / 3 = 2.667.
    for count in (4, 8, 12, 16):
        build = make_build(session, part, process="infusion")
        add_measurement(session, make_photo(session, build), 0.01, mm2=4 * DM2, count=count)

    found = known_spread(session, part.id, TrialResult.PINHOLES, "degassed")

    assert isinstance(found.spread, CountSpread)
    assert (found.spread.rate, found.spread.size) == (pytest.approx(2.5), pytest.approx(4))
    assert found.spread.excess.value == pytest.approx(80 / 30)
    assert f"had 2.5{NBSP}per dm² on 4 dm² each; they differ 2.7 times as much" in found.words
    sizing = size_trial(TrialResult.PINHOLES, 3.0, found.spread, settings=2, by_day=False)
    seen = smallest_rate_shown(sizing.needed, 2.5, size=4, excess=80 / 30)
    more = smallest_rate_shown(sizing.needed - 1, 2.5, size=4, excess=80 / 30)
    assert seen <= 3.0 < more
    assert sizing.shown[-1] == (sizing.needed, MEASURES[TrialResult.PINHOLES].difference(seen))
    assert "per dm²" in sizing.words and "As surely as the spread is known" in sizing.words


def test_where_nothing_was_ever_counted_a_guess_is_asked_for(session: Session, part) -> None:
    for _ in range(5):
        build = make_build(session, part, process="infusion")
        add_measurement(session, make_photo(session, build), 0.0, count=0)

    assert known_spread(session, part.id, TrialResult.PINHOLES, "degassed") is None
    sizing = size_trial(TrialResult.PINHOLES, 2.0, guessed(1.0), settings=2, by_day=False)
    assert f"2{NBSP}per dm²" in sizing.words


def test_within_days_counts_are_compared_day_by_day(session: Session, part) -> None:
    # Differences of 2, 3 and 4 a panel: mean 3, t(0.975, 2) = 4.303 times 1 / √3 is 2.48. Wider by
    # the root of 1 + 3 x 1 / 4² x (4 - 1) / (4 + 1) x 3 / 2 = 1.169: 2.69.
    plan = TrialPlan(
        part.id, "?", "degassed", (True, False), TrialResult.FINDINGS, 1.0, 3, by_day=True
    )
    trial = plan_trial(session, plan, at=NOON, seed=2)
    for run in trial.runs:
        build = start_run(session, trial.id, run.number, at=NOON)
        give(session, build, TrialResult.FINDINGS, 1 if run.value else 2 + run.block)

    (sentence,) = decide_trial(session, trial.id, at=NOON).verdict["sentences"]

    assert f"3{NBSP}a panel higher" in sentence and f"0.3 to 5.7{NBSP}a panel" in sentence


def test_the_lay_up_itself_can_be_varied(session: Session, part) -> None:
    plies = [
        [{"material": cloth, "areal_weight_g_m2": 200.0, "orientation": "", "face": ""}]
        for cloth in ("woven glass", "stitched glass")
    ]
    plan = TrialPlan(part.id, "?", "plies", tuple(plies), TrialResult.MASS, 5.0, 2)
    trial = plan_trial(session, plan, at=NOON, seed=2)

    build = start_run(session, trial.id, 1, at=NOON)

    assert build.known["plies"] == trial.runs[0].value
    assert progress(session, trial).next_run is trial.runs[1]


def test_every_condition_can_be_varied_and_nothing_a_build_comes_to() -> None:
    came_to = {fact for result in RESULTS.values() for fact in result.facts}

    assert {"process", "cloth_batch", "resin_batch", "vacuum_abs_mbar", "plies"} <= set(TO_VARY)
    assert not came_to & set(TO_VARY)
    assert {FACTS[name].kind for name in TO_VARY} == {"number", "choice", "yes-no", "text", "plies"}


def test_a_number_that_differs_on_every_build_still_leaves_a_spread(session: Session, part) -> None:
    # No two builds were equally warm; 1, 2, 3 and 4 g about 2.5: 5 / 3 for variance.
    for grams in range(1, 5):
        make_build(session, part, process="infusion", mould_temp_c=20.0 + grams, mass_g=grams)

    found = known_spread(session, part.id, TrialResult.MASS, "mould_temp_c")

    assert found.spread.value == pytest.approx((5 / 3) ** 0.5)
    assert "but for “mould temperature”" in found.words
