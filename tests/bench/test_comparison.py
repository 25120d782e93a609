import pytest

from defectlog.bench.build_sets import BuildSet
from defectlog.bench.comparison import compare_settings
from defectlog.bench.comparison_tables import comparison_table, figure_rows, figure_table
from defectlog.bench.results import RESULTS
from defectlog.errors import FieldError, NotFoundError
from tests.builders import make_part
from tests.measured import add_build, add_steps, drop_by_step

ALL = BuildSet()
VOIDS = RESULTS["voids"]
NARROW = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


def add_ways(session, part=None, *, wet=(0.020, 0.022, 0.024), new=(0.005, 0.006, 0.007)):
    """Bagged wet lay-up at 1100 g and 100 min, then infusion at 1000 g and 130 min."""
    part = part or make_part(session, "Locker door", target_mass_g=1000.0)
    for process, values, mass, effort in (
        ("bagged-wet-layup", wet, 1100.0, 100.0),
        ("infusion", new, 1000.0, 130.0),
    ):
        for place, value in enumerate(values):
            add_build(
                session,
                part,
                value,
                process=process,
                flow_media=process == "infusion",
                mass_g=mass + place,
                effort_min=effort + place,
            )
    session.flush()
    return part


def compared_by(session, fact="process", wanted=ALL, **more):
    return compare_settings(session, wanted, fact, VOIDS, **more)


def words_of(compared):
    said = [compared.sentence, *compared.asides]
    for side in compared.sides:
        said += [side.sentence, *side.asides]
    said += [cell for row in figure_rows(compared) for cell in row]
    return " ".join(said)


def assert_no_nonsense(compared):
    spoken = words_of(compared).replace(",", " ").split()
    assert not {"nan", "inf", "None", "NaN"} & set(spoken)


def test_difference_and_ratio_stand_in_one_sentence_with_their_intervals(session):
    add_ways(session)

    (voids, mass, effort) = compared_by(session, first="infusion", second="bagged-wet-layup").sides

    # By hand: means 0.6 and 2.2 %, s²/n 1/3 and 4/3 (0.1 points)². On logarithms 1/108 and
    # 1/363, for three values times 1 + 0.75 cv² 1.5: 0.00955 and 0.00278; freedom 3.07, t 3.14,
    # ln 0.2727 ± 3.14 √0.01233: ratio 0.19 to 0.39. The ends of the difference: test_levels.
    assert voids.sentence.startswith(
        f"Void fraction was 0.60{NARROW}% with “vacuum infusion” and 2.2{NARROW}% with “bagged wet "
        f"lay-up”: 1.6{NARROW}points lower, 95{NARROW}% interval 1.2 to 2.1{NARROW}points; 0.27 "
        "times as much, 0.19 to 0.39"
    )
    assert f"10{NARROW}points lower" in mass.sentence and "0.91 times the mass" in mass.sentence
    assert f"30{NARROW}min higher" in effort.sentence and "1.30 times as much" in effort.sentence


def test_the_chance_is_that_of_every_split(session):
    add_ways(session)

    found = compared_by(session).sides[0].found

    # 6 choose 3 is 20; only this split and its mirror are as far apart.
    assert (found.p_value, found.splits, found.method) == (2 / 20, 20, "every split")


def test_without_a_fact_or_settings_what_was_changed_and_made_most_is_compared(session):
    add_ways(session, new=(0.005, 0.006, 0.007, 0.008))

    compared = compared_by(session, fact="")

    assert compared.fact.name == "process"
    assert compared.pair.keys == ("infusion", "bagged-wet-layup")
    assert [fact.name for fact in compared.offered] == ["process", "flow_media"]


def test_what_else_changed_on_the_same_builds_is_said(session):
    add_ways(session)

    first, second = compared_by(session).asides

    assert first.endswith("the difference may be theirs: flow media.")
    assert second.startswith("All builds with “vacuum infusion” came after")


def test_leaking_bags_are_counted_and_said(session):
    part = add_ways(session)
    add_build(session, part, 0.03, process="infusion", vacuum_lost=True)
    session.flush()

    said = " ".join(compared_by(session).asides)

    assert "leaked on 1 of the builds with “vacuum infusion” and on 0 of those" in said


def test_parts_are_compared_with_themselves_and_the_others_are_named(session):
    add_ways(session)
    add_ways(session, make_part(session, "Shell"), wet=(0.12, 0.122), new=(0.105, 0.107, 0.106))
    add_build(session, make_part(session, "Panel"), 0.5, process="infusion")
    session.flush()

    compared = compared_by(session, first="infusion", second="bagged-wet-layup")
    side = compared.sides[0]

    # By hand: differences 1.6 and 1.5 points; weights 3 * 3 / 6 and 2 * 3 / 5.
    expected = -(1.6 * 1.5 + 1.5 * 1.2) / 2.7 / 100
    assert side.found.means.difference == pytest.approx(expected)
    assert "Left out, for fewer than two builds of one of the settings: Panel." in side.asides
    assert [strip.words for strip in side.strips] == [
        "Locker door, vacuum infusion",
        "Locker door, bagged wet lay-up",
        "Shell, vacuum infusion",
        "Shell, bagged wet lay-up",
    ]
    assert sum(len(strip.builds) for strip in side.strips) == 11


def test_a_number_is_cut_in_its_middle(session):
    part = make_part(session)
    for step in range(8):
        add_build(
            session,
            part,
            0.01 + (0.01 if step >= 4 else 0) + 0.0001 * step,
            resin_temp_c=18.0 + step,
        )
    session.flush()

    compared = compared_by(session, "resin_temp_c", first="above", second="up-to")

    assert compared.pair.first.words == f"above 21{NARROW}°C"
    assert [len(builds) for builds in compared.sides[0].builds] == [4, 4]
    assert f"1.0{NARROW}points higher" in compared.sides[0].sentence
    assert any("cut where as many builds" in words for words in compared.asides)


def test_the_leak_rate_can_be_compared_by(session):
    add_steps(session, make_part(session), 6, drop_by_step)

    assert compared_by(session, "leak_rate").pair.first.words == f"up to 2{NARROW}mbar/min"


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ([], "There is no build to compare yet"),
        ([{}, {}], "Process is filled in on none of these builds"),
        ([{"process": "infusion"}] * 3, "is “vacuum infusion” wherever it is filled in"),
    ],
)
def test_without_two_settings_a_sentence_says_so(session, facts, words):
    part = make_part(session)
    for known in facts:
        add_build(session, part, 0.01, **known)
    session.flush()

    compared = compared_by(session)

    assert compared.pair is None and words in compared.sentence
    assert comparison_table(compared)[1:] == [] and figure_table(compared)[1:] == []


def test_one_build_of_a_setting_is_too_few(session):
    add_ways(session, new=(0.005,))

    compared = compared_by(session)

    assert compared.sides[0].found is None
    assert "and two of each are the least" in compared.sides[0].sentence
    assert len(compared.sides[0].builds[1]) == 1  # and is shown all the same
    assert_no_nonsense(compared)


def test_no_part_with_both_settings_is_said(session):
    for name, process in (("Lid", "infusion"), ("Door", "bagged-wet-layup")):
        for value in (0.01, 0.02):
            add_build(session, make_part(session, f"{name} {value}"), value, process=process)
            add_build(session, make_part(session, f"{name} {value} b"), value, process=process)
    session.flush()

    compared = compared_by(session)

    assert "no part has two of each" in compared.sides[0].sentence
    assert_no_nonsense(compared)


def test_results_nobody_has_are_named_one_by_one(session):
    part = make_part(session)
    for process in ("infusion", "wet-layup"):
        for _ in range(2):
            add_build(session, part, None, process=process)
    session.flush()

    voids, mass, effort = compared_by(session).sides

    assert voids.sentence == (
        "Void fraction: no build of either setting has a void measurement yet."
    )
    assert "no build of either setting" in mass.sentence and "working time yet" in effort.sentence


@pytest.mark.parametrize(
    ("wet", "new", "words"),
    [
        ((0.01, 0.01, 0.01), (0.01, 0.01), "was the same on every build compared"),
        ((0.0, 0.0, 0.0), (0.0, 0.0), "was the same on every build compared"),
        ((0.0, 0.0, 0.0), (0.01, 0.011), "points lower"),
        ((0.0, 0.0001, 0.0), (0.01, 0.011), "points lower"),
        ((0.01, 0.02, 0.03), (0.011, 0.021), "No difference shown"),
        ((0.01, 0.01), (0.02, 0.02), "No difference shown"),
    ],
)
def test_equal_values_zeros_and_no_spread_are_told_in_words(session, wet, new, words):
    add_ways(session, wet=wet, new=new)

    for order in (("bagged-wet-layup", "infusion"), ("infusion", "bagged-wet-layup")):
        compared = compared_by(session, first=order[0], second=order[1])
        if order[0] == "bagged-wet-layup":
            assert words in compared.sides[0].sentence
        assert_no_nonsense(compared)


def test_what_cannot_be_asked_is_refused(session):
    add_ways(session)

    for fact in ("mass_g", "plies", "no-such"):
        with pytest.raises(FieldError, match="none to compare by"):
            compared_by(session, fact)
    with pytest.raises(FieldError, match="Both settings are the same"):
        compared_by(session, first="infusion", second="infusion")
    with pytest.raises(NotFoundError):
        compared_by(session, wanted=BuildSet(part=99))
    assert "one of the two settings" in compared_by(session, first="wet-layup").sentence


@pytest.mark.parametrize(
    ("other", "than"),
    # 2.0 ± √(0.5² + 0.2²) and 1.0 ± √(0.5² + 0.1²) reach √(0.29 + 0.26) = 0.742 points together.
    [(0.010, "more than"), (0.014, "no more than")],
)
def test_of_one_build_each_it_is_said_whether_their_surfaces_alone_may_differ_so(
    session, other, than
):
    part = make_part(session)
    add_build(session, part, 0.020, spread=0.005, process="bagged-wet-layup")
    add_build(session, part, other, spread=0.005, process="infusion")
    session.flush()

    said = compared_by(session).sides[0].sentence.replace(NARROW, " ")

    assert "two of each are the least. The two alone are" in said
    assert f"{100 * (0.020 - other):.1f}" in said
    assert f"apart, {than} other pieces of the same two surfaces might be" in said
    assert ("(0.74 points, 95 %)" in said) == (other == 0.010)


@pytest.mark.parametrize(("spread", "other_part"), [(None, False), (0.005, True)])
def test_of_one_build_each_nothing_is_said_without_a_spread_or_of_two_parts(
    session, spread, other_part
):
    part = make_part(session)
    other = make_part(session, "Lid") if other_part else part
    add_build(session, part, 0.020, spread=spread, process="bagged-wet-layup")
    add_build(session, other, 0.010, spread=spread, process="infusion")
    session.flush()

    assert compared_by(session).sides[0].sentence.endswith("two of each are the least.")


def test_tables_hold_every_build_and_every_figure(session):
    add_ways(session)
    compared = compared_by(session, first="infusion", second="bagged-wet-layup")

    heading, *builds = comparison_table(compared)
    assert " ".join(heading) == "result unit setting part build value spread low high"
    assert len(builds) == 3 * 6
    assert builds[0][1:4] == ["fraction", "vacuum infusion", "Locker door"]

    heading, *figures = figure_table(compared)
    assert all(len(row) == len(heading) for row in figures)
    voids = dict(zip(heading, figures[0], strict=True))
    assert voids["difference"] == pytest.approx(-0.016)
    assert voids["ratio"] == pytest.approx(0.006 / 0.022)
    assert figure_rows(compared)[0][3] == f"{MINUS}1.6{NARROW}points"
