import pytest
from scipy.stats import ttest_ind

from defectlog.bench.build_sets import BuildSet
from defectlog.bench.results import RESULTS, find_result
from defectlog.bench.series import result_series, series_table
from defectlog.charts import Turn, individuals, probable_rates
from defectlog.units import NBSP
from tests.builders import make_build, make_finding, make_part, make_photo
from tests.measured import add_build, add_measurement, add_series

ALL = BuildSet()
BAGGED = {"process": "bagged-wet-layup"}
INFUSED = {"process": "infusion"}


def plain(words: str) -> str:
    return words.replace(NBSP, " ")


def add_counted(session, part, counts, mm2):
    """Builds with so many voids found on so much surface."""
    for count, area in zip(counts, mm2, strict=True):
        photo = make_photo(session, make_build(session, part))
        add_measurement(session, photo, 0.001, mm2=area, count=count)
    session.flush()


def test_nothing_noted_is_a_sentence_for_every_result(session):
    make_build(session)

    for result in RESULTS.values():
        series = result_series(session, ALL, result, run_rules=True)
        assert series.points == () and " yet (all parts)." in series.sentence


def test_one_build_and_equal_values_are_sentences_too(session):
    part = make_part(session, target_mass_g=1000.0)
    result = find_result("mass")
    make_build(session, part, mass_g=1000.0)

    assert "not enough to say what is usual" in result_series(session, ALL, result).sentence

    for _ in range(5):
        make_build(session, part, mass_g=1000.0)
    series = result_series(session, ALL, result)
    assert series.sentence.endswith("over 6 builds, every one the same.")
    assert series.drift is None


def test_mass_is_told_against_the_target_with_the_interval_of_the_rise(session):
    part = make_part(session, target_mass_g=1000.0)
    before, after = [980, 990, 1000, 1010, 1020], [1080, 1090, 1100, 1110, 1120]
    for mass in before:
        make_build(session, part, mass_g=mass, **BAGGED)
    for mass in after:
        make_build(session, part, mass_g=mass, **INFUSED)
    # Reference: Welch's interval from scipy; grams of 1000 are tenths of a point.
    low, high = ttest_ind(after, before, equal_var=False).confidence_interval(0.95)

    sentence = plain(result_series(session, ALL, find_result("mass")).sentence)

    assert sentence.startswith("Mass against target rose from 0 % to 10 % after build 5, ")
    assert f"95 % interval of the rise {low / 10:.1f} to {high / 10:.1f} points" in sentence


def test_values_below_target_need_no_floor_and_no_turn(session):
    part = make_part(session, target_mass_g=1000.0)
    for mass in (950, 1010, 940, 1020, 960):
        make_build(session, part, mass_g=mass)

    series = result_series(session, ALL, find_result("mass"))

    assert series.charted.turn is Turn.NONE
    assert series.points[0].lower < -0.05


def test_skewed_values_are_charted_on_a_turned_scale_and_it_is_said(session):
    part = make_part(session)
    for minutes in (10, 40, 12, 35, 11, 50):
        make_build(session, part, effort_min=minutes)

    series = result_series(session, ALL, find_result("effort"))

    assert series.charted.turn is Turn.LOG
    assert any("worked out on the logarithms" in words for words in series.basis)
    assert series.points[0].lower > 0


def test_limits_rest_on_the_first_twenty_and_later_builds_do_not_move_them(session):
    part = make_part(session)
    minutes = [100 + 2 * (i % 3) for i in range(20)]
    for value in [*minutes, 130, 131]:
        make_build(session, part, effort_min=value)

    series = result_series(session, ALL, find_result("effort"))

    assert series.points[0].upper == pytest.approx(individuals(minutes).upper)
    assert [point.number for point in series.outside] == [21, 22]
    assert any("rest on builds 1 to 20" in words for words in series.basis)


def test_pinholes_are_counted_per_area_with_room_for_clustering(session):
    part = make_part(session)
    counts, mm2 = [10, 30, 8, 35, 12], [10_000, 20_000, 10_000, 20_000, 10_000]
    add_counted(session, part, counts, mm2)
    expected = probable_rates(counts, [1, 2, 1, 2, 1])

    series = result_series(session, ALL, find_result("pinholes"))

    assert [point.made.value for point in series.points] == list(expected.values)
    assert series.points[1].upper == pytest.approx(expected.limits_at(1)[1])
    assert any("Laney" in words for words in series.asides)


def test_a_surface_without_scale_has_no_rate(session):
    photo = make_photo(session, make_build(session))
    add_measurement(session, photo, 0.01, mm2=None)

    assert not result_series(session, ALL, find_result("pinholes")).points


def test_a_build_outside_says_what_was_different_about_it(session):
    part = make_part(session)
    for minutes in (100, 102, 101, 160, 102, 100, 101, 102, 101, 100):
        odd = minutes == 160
        make_build(
            session,
            part,
            effort_min=minutes,
            peel_pace="rushed" if odd else "slow",
            ambient_c=31.0 if odd else 20.0 + minutes % 3,
            humidity_pct=50.0,
        )

    (outside,) = result_series(session, ALL, find_result("effort")).outside

    assert outside.number == 4
    assert [plain(words) for words in outside.differs] == [
        "Air temperature: 31 °C (neighbours 20 to 22 °C)",
        "Pace: rushed (neighbours slow and steady)",
    ]


def test_a_small_drift_shows_in_the_moving_average_before_any_point_is_outside(session):
    part = make_part(session)
    steady = [100, 104] * 10  # the mean range is 4, so a sigma is 3.5
    drifted = [106, 109, 107, 110, 106, 110, 108, 109]
    for minutes in steady + drifted:
        make_build(session, part, effort_min=minutes)

    series = result_series(session, ALL, find_result("effort"), run_rules=True)

    assert series.outside == ()
    assert series.drift is not None and min(series.drift.outside) >= 20
    assert any("eight points in a row" in words for point in series.runs for words in point.runs)


def test_run_rules_are_only_applied_when_asked_for(session):
    part = make_part(session)
    for minutes in [100, 104] * 10 + [106] * 9:
        make_build(session, part, effort_min=minutes)

    assert result_series(session, ALL, find_result("effort")).runs == ()


def test_void_fractions_agree_with_what_was_measured(session):
    part = make_part(session)
    add_series(session, part, [0.020, None, 0.022])
    add_build(session, part, None)

    series = result_series(session, BuildSet(part=part.id), find_result("voids"))

    assert series.values == (0.020, None, 0.022)
    assert series.made.title == "Void fraction, tool side at demould"


def test_the_table_has_a_row_for_every_point(session):
    part = make_part(session)
    add_series(session, part, [0.020, None, 0.022])

    heading, *rows = series_table(result_series(session, ALL, find_result("voids")))

    assert [row[heading.index("value")] for row in rows] == [0.020, None, 0.022]
    assert all(len(row) == len(heading) for row in rows)


def test_a_gain_in_voids_is_told_with_the_mass_it_cost(session):
    part = make_part(session, target_mass_g=1000.0)
    before, after = [1000, 1010, 990, 1005], [1100, 1110, 1090, 1105]
    for void, mass in zip([0.02, 0.021, 0.022, 0.02], before, strict=True):
        add_build(session, part, void, mass_g=mass, **BAGGED)
    for void, mass in zip([0.005, 0.006, 0.006, 0.005], after, strict=True):
        add_build(session, part, void, mass_g=mass, **INFUSED)
    low, high = ttest_ind(after, before, equal_var=False).confidence_interval(0.95)

    (mass,) = result_series(session, ALL, find_result("voids")).beside

    assert mass.result.key == "mass"
    assert plain(mass.sentence).startswith("Mass against target rose from 0.12 % to 10 %")
    # Grams of 1000 are tenths of a point.
    assert f"95 % interval of the rise {low / 10:.1f} to {high / 10:.1f} points" in plain(
        mass.sentence
    )


def test_equal_values_on_both_sides_of_a_change_are_said_to_have_stayed(session):
    part = make_part(session)
    for process in (BAGGED, INFUSED):
        for _ in range(5):
            make_build(session, part, effort_min=90, **process)

    series = result_series(session, ALL, find_result("effort"))

    assert plain(series.sentence).startswith("Working time stayed at 90 min (vacuum infusion")
    assert series.steps is None and series.drift is None


def test_no_voids_at_all_are_a_sentence_and_no_fault(session):
    part = make_part(session)
    add_series(session, part, [0.0] * 6)

    for key in ("voids", "pinholes", "largest"):
        series = result_series(session, ALL, find_result(key))
        assert "average" in series.sentence and "every one the same" in series.sentence
        assert series.outside == ()


def test_surfaces_with_and_without_scale_are_not_mixed(session):
    part = make_part(session)
    for mm2 in (1000.0, None, 1000.0):
        photo = make_photo(session, make_build(session, part))
        add_measurement(session, photo, 0.01, mm2=mm2, count=2)

    series = result_series(session, ALL, find_result("pinholes"))

    assert [point.made is None for point in series.points] == [False, True, False]
    assert "without a void measurement with a scale" in series.asides[-1]


def test_a_build_outside_of_which_nothing_is_noted_has_nothing_to_tell(session):
    part = make_part(session)
    for minutes in (100, 102, 101, 160, 102, 100, 101, 102, 101, 100):
        make_build(session, part, effort_min=minutes)

    (outside,) = result_series(session, ALL, find_result("effort")).outside

    assert outside.differs == ()


def test_steps_larger_than_usual_are_counted(session):
    # Steps of 2 and one of 40 within twenty: mean 4, so the limit is 13.
    part = make_part(session)
    for minutes in [100, 102] * 9 + [142, 140]:
        make_build(session, part, effort_min=minutes)

    steps = result_series(session, ALL, find_result("effort")).steps

    assert steps is not None
    assert "1 step larger than usual, first at build 19" in plain(steps.sentence)


def test_a_build_is_told_apart_from_builds_of_its_own_part(session):
    lid, door = make_part(session, "Lid"), make_part(session, "Door")
    for minutes in (100, 102, 101, 160, 102, 100, 101, 102, 101, 100):
        make_build(session, lid, effort_min=minutes, core="none")
        make_build(session, door, effort_min=101, core="pvc-foam")

    (outside,) = result_series(session, ALL, find_result("effort")).outside

    assert outside.part_id == lid.id and outside.differs == ()


def test_a_second_finding_on_one_build_is_no_alarm_because_others_happen_to_lie_close(session):
    # Hardly a step, yet a mean of a half. Poisson by hand: more than 3 in 0.00175 of builds, more
    # than 4 in 0.00017, so 4 is the first limit with 0.00135 or less beyond it.
    part = make_part(session)
    for count in [0] * 10 + [1] * 10 + [2]:
        photo = make_photo(session, make_build(session, part))
        for _ in range(count):
            make_finding(session, photo)

    series = result_series(session, ALL, find_result("findings"))

    assert series.points[0].upper == 4
    assert series.outside == ()


def test_a_build_is_held_against_sound_builds_of_its_own_stretch_and_its_leak_comes_first(session):
    part = make_part(session)
    wet = {"drop_start_mbar": 80, "drop_end_mbar": 100, "drop_minutes": 10}
    dry = {"drop_start_mbar": 15, "drop_end_mbar": 20, "drop_minutes": 10}
    leaky = {"drop_start_mbar": 30, "drop_end_mbar": 90, "drop_minutes": 10}
    for minutes in (100, 102, 101, 103, 100):
        make_build(session, part, effort_min=minutes, **BAGGED, **wet)
    for minutes in (100, 160, 102, 101, 103, 100):
        tested = leaky if minutes == 160 else dry
        make_build(session, part, effort_min=minutes, **INFUSED, **tested)

    (outside,) = result_series(session, ALL, find_result("effort")).outside

    # 60 mbar in 10 minutes. Against the bagged builds beside it, 80 to 100 mbar, 90 is nothing.
    assert [plain(words) for words in outside.differs] == [
        "The bag leaked: 6 mbar/min in the drop test",
        "Drop test, start: 30 mbar (neighbours 15 mbar)",
        "Drop test, end: 90 mbar (neighbours 20 mbar)",
    ]


def test_another_mix_of_parts_is_no_change(session):
    light, heavy = make_part(session, "Lid"), make_part(session, "Door")
    minutes = iter([1, 3, 2, 4, 3, 1, 4, 2] * 3)
    for part, number, facts in (
        (light, 6, BAGGED),
        (heavy, 2, BAGGED),
        (light, 2, INFUSED),
        (heavy, 6, INFUSED),
    ):
        for _ in range(number):
            base = 100 if part is light else 200
            make_build(session, part, effort_min=base + next(minutes), **facts)

    series = result_series(session, ALL, find_result("effort"))

    # The plain means are 127.5 and 177.5 min: it is the doors. Each part is where it was.
    assert "still allows for no change" in series.sentence
    (mixed,) = [
        words for words in series.remarks if words.startswith("These builds are of 2 parts")
    ]
    assert "compares each part with itself" in mixed


def test_a_drift_that_went_back_is_not_called_lasting(session):
    part = make_part(session)
    steady, drifted = [100, 104] * 10, [107, 110, 107, 110, 107, 110]
    for minutes in steady + drifted:
        make_build(session, part, effort_min=minutes)
    drift = result_series(session, ALL, find_result("effort")).drift
    assert drift is not None and "and still on the newest" in drift.sentence

    for minutes in steady:
        make_build(session, part, effort_min=minutes)
    drift = result_series(session, ALL, find_result("effort")).drift
    assert drift is not None and drift.sentence.endswith(", and within them since.")


def test_a_leak_is_no_drift(session):
    part = make_part(session)
    for minutes in [100, 104] * 6 + [190] + [100, 104] * 2:
        tested = {"vacuum_lost": minutes == 190}
        make_build(session, part, effort_min=minutes, **tested)

    series = result_series(session, ALL, find_result("effort"))

    # With weight 0.2 the moving average would still lie 18 × 0.8⁴ = 7 min above 102 on the last.
    assert [point.number for point in series.outside] == [13]
    assert series.drift is not None and series.drift.outside == ()
    assert "(without 1 build whose bag leaked)" in plain(series.drift.sentence)


def test_where_nothing_was_found_the_upper_end_says_how_much_there_may_be(session):
    part = make_part(session)
    for _ in range(10):
        make_photo(session, make_build(session, part))

    sentence = plain(result_series(session, ALL, find_result("findings")).sentence)

    # Exact Poisson limit of a count of 0: 3.689 (Garwood 1936, table of both-sided 95 %), over 10.
    assert sentence.endswith("every one the same, 95 % interval 0.00 to 0.37.")
