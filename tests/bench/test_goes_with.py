import pytest

from defectlog.bench.build_sets import BuildSet
from defectlog.bench.goes_with import goes_with, goes_with_table
from defectlog.bench.goes_with_words import by_chance, effect_words
from defectlog.bench.results import RESULTS
from defectlog.charts import Association, Column, Slope
from defectlog.errors import FieldError, NotFoundError
from tests.builders import make_build, make_finding, make_part, make_photo
from tests.measured import add_build, add_series, add_steps, drop_by_step

ALL = BuildSet()
VOIDS = RESULTS["voids"]
NARROW = "\N{NO-BREAK SPACE}"
# Twelve builds made the old way and twelve the new one: 1.5 points lower, whatever the humidity.
OLD = [0.0200 + 0.0001 * step for step in range(12)]
NEW = [value - 0.015 for value in OLD]
HUMIDITY = [52.0, 61.0, 48.0, 55.0, 66.0, 50.0, 58.0, 63.0, 47.0, 53.0, 60.0, 57.0]


def add_shop(session, *, part=None, mixed=False):
    """The old way, then the new way, flow media coming with it; or both ways in turn."""
    part = part or make_part(session, "Locker door")
    rows = []
    for process, values in (("bagged-wet-layup", OLD), ("infusion", NEW)):
        for place, value in enumerate(values):
            facts = {
                "process": process,
                "flow_media": process == "infusion",
                "humidity_pct": HUMIDITY[place],
                "core": "pvc-foam",
            }
            rows.append((place if mixed else 0, value, facts))
    for _, value, facts in sorted(rows, key=lambda row: row[0]):
        add_build(session, part, value, **facts)
    session.flush()
    return part


def everything(shown):
    """All words of an answer, to look for what must never stand in them."""
    said = [shown.sentence, *shown.unjudged, *shown.asides]
    for one in [one for bundle in shown.found for one in bundle.facts] + list(shown.dull):
        said += [one.told.effect, one.told.interval, one.told.q, one.told.doubt, one.when]
    return " ".join(said) + " ".join(bundle.along for bundle in shown.found)


def assert_no_nonsense(words):
    assert not {"nan", "inf", "None"} & set(words.replace(",", " ").split())


def test_facts_that_changed_on_the_same_builds_stand_as_one(session):
    add_shop(session)

    shown = goes_with(session, ALL, VOIDS)

    (bundle,) = shown.found
    assert [one.name for one in bundle.facts] == ["process", "flow_media"]
    assert bundle.lead.told.effect == (
        f"1.5{NARROW}points lower with “vacuum infusion” than with “bagged wet lay-up”"
    )
    assert "2 of 3" in shown.sentence and "none of which can be told apart" in shown.sentence
    assert_no_nonsense(everything(shown))


def test_the_interval_holds_the_shift_and_stands_in_points(session):
    add_shop(session)

    lead = goes_with(session, ALL, VOIDS).found[0].lead

    # Truth by construction: every pair alike but for its place differs by 1.5 points.
    assert lead.association.slope.low <= -0.015 <= lead.association.slope.high
    assert lead.told.interval.startswith(f"95{NARROW}% interval 1.")
    assert lead.told.interval.endswith("points")
    assert lead.settings == ("infusion", "bagged-wet-layup")


@pytest.mark.parametrize(("low", "is_doubted"), [(-0.0001, True), (0.0001, False)])
def test_an_interval_that_allows_for_no_effect_says_so(low, is_doubted):
    column = Column("humidity_pct", tuple(HUMIDITY), is_number=True)
    slope = Slope(0.001, low, 0.002, 66)
    one = Association("humidity_pct", tuple(range(12)), (), None, None, slope, 0.01, 1000, 0.04)

    assert ("no effect" in effect_words(VOIDS, one, column).doubt) is is_doubted


def test_what_changed_once_and_stayed_is_said_to_have_changed_with_time(session):
    add_shop(session)

    lead = goes_with(session, ALL, VOIDS).found[0].lead

    assert lead.when.startswith("All builds with “vacuum infusion” came after")


def test_what_was_made_in_turn_did_not_change_with_time(session):
    add_shop(session, mixed=True)

    assert goes_with(session, ALL, VOIDS).found[0].lead.when == ""


def test_a_fact_without_an_effect_is_judged_and_not_found(session):
    add_shop(session)

    assert [one.name for one in goes_with(session, ALL, VOIDS).dull] == ["humidity_pct"]


def test_every_other_fact_has_its_reason(session):
    part = add_shop(session)
    for number, batch in enumerate(("A1", "A2", "A3")):
        add_build(session, part, 0.02 + 0.0001 * number, resin_batch=batch, degassed=True)
    session.flush()

    shown = goes_with(session, ALL, VOIDS)
    few, alike, unknown = shown.unjudged

    assert few.startswith("Differ on too few builds") and "resin batch" in few
    assert "core" in alike and "resin degassed" in alike
    assert unknown.startswith("Filled in on no build") and "mould surface" in unknown


def test_what_a_build_came_to_and_the_plies_are_no_conditions(session):
    def facts(step):
        return {
            "mass_g": 500.0 + step,
            "effort_min": 60.0 + step,
            "resin_left_g": 10.0 + step,
            "resin_temp_c": 20.0 + 0.1 * step,
        }

    add_steps(session, make_part(session), 12, facts)

    shown = goes_with(session, ALL, VOIDS)

    assert [one.name for bundle in shown.found for one in bundle.facts] == ["resin_temp_c"]
    effect = shown.found[0].lead.told.effect
    # By hand: a point for every degree, told for a round step the builds differed by.
    assert effect == f"0.50{NARROW}points higher for every 0.5{NARROW}°C more"


def test_the_drop_test_counts_by_its_leak_rate(session):
    add_steps(session, make_part(session), 12, drop_by_step)

    (bundle,) = goes_with(session, ALL, VOIDS).found

    assert (bundle.lead.name, bundle.lead.is_fact) == ("leak_rate", False)
    # A mbar/min is a step, and a step 0.1 points.
    assert bundle.lead.association.slope.value == pytest.approx(0.001)


def test_parts_that_differ_are_not_held_against_each_other(session):
    for name, level, core in (("Lid", 0.01, "none"), ("Shell", 0.05, "balsa")):
        add_series(
            session, make_part(session, name), [level + 0.0001 * n for n in range(8)], core=core
        )
    session.flush()

    shown = goes_with(session, ALL, VOIDS)

    assert not shown.found and not shown.dull
    assert any("every build of a part: core" in line for line in shown.unjudged)


def test_counts_are_told_by_their_means(session):
    part = make_part(session)
    for step in range(20):
        build = make_build(session, part, peel_pace="rushed" if step % 2 else "slow")
        photo = make_photo(session, build)
        for _ in range(2 if step % 2 else 0):
            make_finding(session, photo)
    session.flush()

    lead = goes_with(session, ALL, RESULTS["findings"]).found[0].lead

    assert lead.told.effect == "2 higher with “rushed” than with “slow and steady”"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([], "No build has a void measurement yet"),
        ([None], "No build has a void measurement yet"),
        ([0.01], "Only one build has"),
        ([0.0] * 9, f"0{NARROW}% on all 9{NARROW}builds"),
        ([0.01] * 9, f"1.0{NARROW}% on all 9{NARROW}builds"),
        ([0.01, 0.02, 0.03], "nothing written down of them"),
        ([0.01 * n for n in range(9)], "nothing written down of them"),
    ],
)
def test_too_little_gets_a_sentence(session, values, words):
    part = make_part(session)
    for place, value in enumerate(values):
        add_build(session, part, value, process="infusion" if place else "wet-layup")
    session.flush()

    shown = goes_with(session, ALL, VOIDS)

    assert words in shown.sentence
    assert not shown.found
    assert_no_nonsense(everything(shown))


def test_zeros_and_one_wild_build_do_no_harm(session):
    part = make_part(session)
    for step in range(16):
        value = 0.0 if step % 2 else (0.9 if step == 8 else 0.02)
        add_build(session, part, value, degassed=bool(step % 2), cure_c=20.0 + step % 5)
    session.flush()

    shown = goes_with(session, ALL, VOIDS)

    assert shown.found[0].lead.name == "degassed"
    assert_no_nonsense(everything(shown))


def test_the_table_holds_every_fact_judged(session):
    add_shop(session)

    heading, *rows = goes_with_table(goes_with(session, ALL, VOIDS))

    assert heading[0] == "fact" and all(len(row) == len(heading) for row in rows)
    by_fact = {row[0]: dict(zip(heading, row, strict=True)) for row in rows}
    assert set(by_fact) == {"Process", "Flow media", "Relative humidity"}
    assert by_fact["Process"]["effect"] == pytest.approx(-0.015)
    assert (by_fact["Process"]["passes"], by_fact["Relative humidity"]["passes"]) == ("yes", "no")


def test_a_set_that_cannot_be_is_refused(session):
    with pytest.raises(NotFoundError):
        goes_with(session, BuildSet(part=9), VOIDS)
    with pytest.raises(FieldError):
        goes_with(session, BuildSet(builds="x"), VOIDS)


@pytest.mark.parametrize(
    ("q", "words"),
    [
        (0.003, "fewer than 1 in 100"),
        (0.05, "about 1 in 20"),
        (0.1, "about 1 in 10"),
        (0.5, "about 1 in 2"),
        (0.7, "more than half"),
        (1.0, "more than half"),
    ],
)
def test_a_false_discovery_rate_is_told_as_people_speak(q: float, words: str) -> None:
    assert by_chance(q) == words
