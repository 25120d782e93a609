import pytest
from scipy.stats import ttest_ind

from defectlog.bench.build_sets import BuildSet
from defectlog.bench.results import find_result
from defectlog.bench.series import result_series, series_table
from defectlog.charts import Turn, individuals_turned
from defectlog.errors import NotFoundError
from defectlog.records import Face, PhotoStage
from defectlog.units import NBSP
from tests.builders import NOON, make_part, make_photo
from tests.measured import add_build, add_measurement, add_series

BAGGED = {"process": "bagged-wet-layup"}
INFUSED = {"process": "infusion"}
# Means 2.1 % and 0.6 %, by hand.
BEFORE = [0.020, 0.022, 0.019, 0.023, 0.021, 0.021]
AFTER = [0.006, 0.007, 0.005, 0.006, 0.006]


def plain(words: str) -> str:
    return words.replace(NBSP, " ")


def void_series(session, part_id, **more):
    return result_series(session, BuildSet(part=part_id), find_result("voids"), **more)


def test_a_part_never_measured_says_so_and_names_its_newest_build(session):
    part = make_part(session)
    add_series(session, part, [None, None])

    trend = void_series(session, part.id)

    assert plain(trend.sentence) == "No build has a void measurement yet (Locker door)."
    assert trend.made.surface is None and trend.points == ()
    assert trend.chosen.numbers[-1] == part.builds[-1].id


def test_a_part_without_builds_has_no_newest(session):
    assert not void_series(session, make_part(session).id).chosen.made


def test_a_part_that_is_not_there_is_not_found(session):
    with pytest.raises(NotFoundError):
        void_series(session, 99)


def test_few_builds_are_told_as_too_few(session):
    part = make_part(session)
    add_series(session, part, [0.01, 0.03])

    trend = void_series(session, part.id)

    assert plain(trend.sentence).startswith(
        "Void fraction: 2 builds so far, mean 2.0 %, not enough"
    )
    assert "3 more builds, and limits can be drawn" in plain(trend.sentence)
    assert [point.upper for point in trend.points] == [None, None]


def test_a_steady_part_is_told_with_the_interval_of_its_mean(session):
    # Mean 2 %, s 0.1581 %, t(0.975, 4) = 2.776: 2 ± 2.776 x 0.1581 / sqrt(5) = 2 ± 0.196.
    part = make_part(session)
    add_series(session, part, [0.018, 0.020, 0.022, 0.019, 0.021])

    sentence = plain(void_series(session, part.id).sentence)

    assert sentence == (
        "Void fraction averages 2.0 % over 5 builds, 95 % interval of the mean 1.8 to 2.2 %; "
        "no build is outside the limits."
    )


def test_a_build_outside_its_limits_is_named(session):
    # Mean range of the nine steps (0.1, 0.1, ... and twice 4.0) keeps 6 % far outside.
    part = make_part(session)
    values = [0.020, 0.021, 0.020, 0.021, 0.020, 0.060, 0.020, 0.021, 0.020, 0.021]
    builds = add_series(session, part, values)

    trend = void_series(session, part.id)

    assert [point.number for point in trend.outside] == [builds[5].id]
    assert "above the upper limit" in trend.outside[0].words
    assert trend.sentence.endswith(f"1{NBSP}build is outside the limits.")


def test_limits_of_values_that_reach_nothing_are_worked_out_on_roots(session):
    part = make_part(session)
    add_series(session, part, [0.0, 0.02, 0.0, 0.02, 0.01])
    expected = individuals_turned([0.0, 0.02, 0.0, 0.02, 0.01], Turn.ROOT)

    point = void_series(session, part.id).points[0]

    assert (point.centre, point.lower, point.upper) == (
        pytest.approx(expected.centre),
        0,
        pytest.approx(expected.upper),
    )


def test_a_marked_change_is_told_with_the_interval_of_the_drop(session):
    part = make_part(session)
    before = add_series(session, part, BEFORE, **BAGGED)
    after = add_series(session, part, AFTER, **INFUSED)
    # Reference: Welch's interval from scipy, in points.
    low, high = ttest_ind(BEFORE, AFTER, equal_var=False).confidence_interval(0.95)

    trend = void_series(session, part.id)

    assert plain(trend.sentence) == (
        f"Void fraction fell from 2.1 % to 0.60 % after build {before[-1].id}, 95 % interval of "
        f"the drop {100 * low:.1f} to {100 * high:.1f} points "
        f"(vacuum infusion from build {after[0].id} on)."
    )
    assert trend.changes[0].short == "vacuum infusion"
    assert [(phase.start, phase.stop) for phase in trend.phases] == [(0, 6), (6, 11)]
    assert trend.points[0].upper > trend.points[-1].upper


def test_a_rise_is_called_a_rise(session):
    part = make_part(session)
    add_series(session, part, AFTER, **BAGGED)
    add_series(session, part, BEFORE, **INFUSED)

    sentence = plain(void_series(session, part.id).sentence)

    assert "rose from 0.60 % to 2.1 %" in sentence
    assert "95 % interval of the rise 1" in sentence


def test_a_change_that_shows_nothing_is_told_as_such(session):
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    add_series(session, part, BEFORE, **INFUSED)

    assert "still allows for no change" in void_series(session, part.id).sentence


def test_a_young_change_moves_no_limits_and_says_how_many_builds_it_wants(session):
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    young = add_series(session, part, AFTER[:2], **INFUSED)

    trend = void_series(session, part.id)

    assert len(trend.phases) == 1
    assert plain(trend.remarks[0]).startswith(
        f"2 builds since build {young[0].id} (vacuum infusion): 2 more"
    )


def test_four_builds_on_either_side_are_compared_but_four_carry_no_limits(session):
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    add_series(session, part, AFTER[:4], **INFUSED)

    trend = void_series(session, part.id)

    assert "fell from 2.1 % to 0.60 %" in plain(trend.sentence)
    assert trend.points[0].upper is not None
    assert trend.points[-1].upper is None
    assert any("carries no limits yet" in aside for aside in trend.asides)


def test_an_unknown_fact_is_no_change(session):
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    add_series(session, part, BEFORE[:2])
    add_series(session, part, BEFORE[:2], **BAGGED)

    assert void_series(session, part.id).changes == ()


def test_a_fact_that_goes_to_and_fro_is_no_marked_change(session):
    part = make_part(session)
    for tack in ["none", "light"] * 3:
        add_build(session, part, 0.02, tack_adhesive=tack)

    assert void_series(session, part.id).changes == ()


def test_a_lesser_change_within_a_process_moves_no_limits(session):
    part = make_part(session)
    add_series(session, part, BEFORE, tack_adhesive="none", **BAGGED)
    add_series(session, part, BEFORE, tack_adhesive="light", **BAGGED)
    add_series(session, part, AFTER, tack_adhesive="light", **INFUSED)

    trend = void_series(session, part.id)

    assert [change.short for change in trend.changes] == [
        "tack adhesive: light mist",
        "vacuum infusion",
    ]
    assert [(phase.start, phase.stop) for phase in trend.phases] == [(0, 12), (12, 17)]


def test_a_lesser_change_is_compared_where_the_process_stayed(session):
    part = make_part(session)
    add_series(session, part, BEFORE, tack_adhesive="light", **BAGGED)
    add_series(session, part, AFTER, tack_adhesive="none", **BAGGED)

    assert "(tack adhesive: none from build 7 on)" in plain(void_series(session, part.id).sentence)


def test_facts_changed_together_are_one_change(session):
    part = make_part(session)
    add_series(session, part, BEFORE, process="bagged-wet-layup", tack_adhesive="none")
    add_series(session, part, AFTER, process="infusion", tack_adhesive="light")

    (change,) = void_series(session, part.id).changes

    assert change.facts == ("process", "tack_adhesive")
    assert "bagged wet lay-up before, vacuum infusion" in change.words
    assert "none before, light mist" in change.words


def test_a_shift_nobody_marked_is_asked_about(session):
    # Six and six with hardly any scatter: of random orders next to none look like it.
    part = make_part(session)
    builds = add_series(session, part, [*BEFORE, *AFTER, 0.006])

    (remark,) = void_series(session, part.id).remarks

    assert f"with build {builds[6].id}, where no change is marked" in plain(remark)


def test_a_leaking_bag_is_told_apart_from_the_process(session):
    # A rise of 80 mbar in 10 min is a failed drop test; 6 % on that build hides the drop.
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    add_series(session, part, AFTER, **INFUSED)
    leak = add_build(
        session, part, 0.06, drop_start_mbar=20, drop_end_mbar=100, drop_minutes=10, **INFUSED
    )
    low, high = ttest_ind(BEFORE, AFTER, equal_var=False).confidence_interval(0.95)

    trend = void_series(session, part.id)

    # The leak sets no limits, and hides no change: it is told beside.
    assert "fell from 2.1 % to 0.60 %" in plain(trend.sentence)
    assert f"of the drop {100 * low:.1f} to {100 * high:.1f} points" in plain(trend.sentence)
    assert f"without build {leak.id}, whose bag leaked" in plain(trend.sentence)
    assert plain(trend.remarks[0]).startswith(
        f"On build {leak.id} the bag leaked (drop test marginal or failed, or vacuum lost). "
        "With it in, void fraction went from 2.1 % to "
    )
    assert plain(trend.remarks[0]).endswith("allows for no change.")
    assert trend.points[-1].words.endswith("; the bag leaked")


def test_a_build_whose_bag_leaked_sets_no_limits_and_stands_out(session):
    part = make_part(session)
    leak = {"drop_start_mbar": 20, "drop_end_mbar": 100, "drop_minutes": 10}
    add_series(session, part, AFTER)
    leaky = [add_build(session, part, void, **leak) for void in (0.009, 0.02)]
    add_series(session, part, AFTER)

    series = void_series(session, part.id)

    # The limits are those of the sound builds alone, no step counted across the leak.
    expected = individuals_turned([*AFTER, None, None, *AFTER], series.charted.turn)
    assert series.points[0].upper == pytest.approx(expected.upper)
    assert [point.number for point in series.outside] == [build.id for build in leaky]
    assert f"but for {leaky[0].id} and {leaky[1].id}, where the bag leaked" in series.basis[0]


def test_builds_of_unknown_vacuum_count_as_sound(session):
    part = make_part(session)
    add_series(session, part, BEFORE, **BAGGED)
    add_series(session, part, AFTER, **INFUSED)

    assert void_series(session, part.id).remarks == ()


def test_photos_of_one_surface_are_pooled_by_area(session):
    # 1 % on 3000 mm² and 5 % on 1000 mm²: (30 + 50) / 4000 = 2 %.
    part = make_part(session)
    build = add_build(session, part, None)
    add_measurement(session, make_photo(session, build), 0.01, mm2=3000)
    add_measurement(session, make_photo(session, build), 0.05, mm2=1000)

    (point,) = void_series(session, part.id).points

    assert point.made.value == pytest.approx(0.02)
    assert (point.made.photos, point.made.inspected_mm2) == (2, 4000)
    assert point.made.spread is point.made.low is None  # of neither photo it is known


def test_without_a_scale_photos_are_pooled_by_pixels_and_that_is_said(session):
    # Both have 100 000 inspected pixels: the plain mean of 1 % and 5 %.
    part = make_part(session)
    build = add_build(session, part, None)
    add_measurement(session, make_photo(session, build), 0.01, mm2=3000)
    add_measurement(session, make_photo(session, build), 0.05, mm2=None)

    trend = void_series(session, part.id)

    assert trend.points[0].made.value == pytest.approx(0.03)
    assert "in pixels" in trend.asides[-1]


def test_only_the_newest_measurement_of_a_photo_counts_and_deleted_photos_do_not(session):
    part = make_part(session)
    build = add_build(session, part, 0.05)
    add_measurement(session, build.photos[0], 0.01)
    gone = make_photo(session, build)
    add_measurement(session, gone, 0.9)
    gone.deleted_at = NOON
    session.flush()

    (point,) = void_series(session, part.id).points

    assert point.made.value == pytest.approx(0.01)
    assert point.made.photos == 1


def test_the_tool_side_at_demould_comes_first_and_others_can_be_asked_for(session):
    part = make_part(session)
    add_series(session, part, BEFORE)
    add_series(session, part, AFTER, face=Face.BAG, stage=PhotoStage.PEELED)

    first = void_series(session, part.id)
    asked = void_series(session, part.id, surface="bag-peeled")

    assert first.made.surface.words == "tool side at demould"
    assert [other.key for other in first.made.others] == ["bag-peeled"]
    assert len(asked.points) == 5


def test_a_repaired_surface_says_nothing_of_how_it_was_made(session):
    part = make_part(session)
    add_build(session, part, 0.01, stage=PhotoStage.REPAIRED)

    assert void_series(session, part.id).made.surface is None


def test_builds_in_between_leave_a_gap_and_builds_still_in_the_mould_none(session):
    part = make_part(session)
    add_series(session, part, [None, 0.01, 0.02, None, 0.01, 0.02, 0.01, None])

    trend = void_series(session, part.id)

    assert [point.made is None for point in trend.points] == [False, False, True] + [False] * 3
    assert "1 build in between is without a void measurement" in plain(trend.asides[-1])


def test_the_table_holds_what_the_chart_shows(session):
    part = make_part(session)
    builds = add_series(session, part, BEFORE, **BAGGED) + add_series(
        session, part, AFTER, **INFUSED
    )

    heading, *rows = series_table(void_series(session, part.id))

    assert [row[0] for row in rows] == [build.id for build in builds]
    assert [row[heading.index("value")] for row in rows] == [*BEFORE, *AFTER]
    assert {row[heading.index("spread")] for row in rows} == {None}
    assert "vacuum infusion" in rows[6][heading.index("marked_change")]
    assert all(len(row) == len(heading) for row in rows)


def test_builds_on_which_small_voids_were_left_out_are_named(session):
    part = make_part(session)
    first, second, *_ = builds = add_series(session, part, BEFORE[:3])
    for build in (first, second):
        add_measurement(session, build.photos[0], 0.01, settings={"smallest_mm": 3.0})

    (remark,) = void_series(session, part.id).remarks
    assert plain(remark).startswith(
        f"On builds {first.id} and {second.id} only voids from 3 mm count"
    )

    add_measurement(session, builds[2].photos[0], 0.01, settings={"smallest_mm": 3.0})
    assert plain(void_series(session, part.id).remarks[0]).startswith("Only voids from 3 mm count")


def test_without_a_scale_no_void_was_left_out_for_its_size(session):
    part = make_part(session)
    first, *_ = add_series(session, part, BEFORE[:3])
    add_measurement(session, first.photos[0], 0.01, mm2=None, settings={"smallest_mm": 3.0})

    assert void_series(session, part.id).remarks == ()
