import pytest

from defectlog.bench.build_sets import BuildSet, choose_builds
from defectlog.bench.fixes import record_fix
from defectlog.bench.results import RESULTS, find_result, result_values
from defectlog.errors import NotFoundError
from tests.builders import NOON, make_build, make_finding, make_part, make_photo
from tests.measured import add_measurement

ALL = BuildSet()


def test_the_largest_void_is_that_of_all_photos_of_the_surface(session):
    build = make_build(session)
    for size in (0.8, 1.4):
        add_measurement(session, make_photo(session, build), 0.01, largest_mm=size, count=3)
    session.flush()

    values = result_values(session, find_result("largest"), choose_builds(session, ALL)).values

    assert values[build.id].value == 1.4


def test_findings_are_counted_on_builds_that_were_photographed(session):
    part = make_part(session)
    looked_at, unseen, troubled = (make_build(session, part) for _ in range(3))
    make_photo(session, looked_at)
    photo = make_photo(session, troubled)
    for kind in ("dry-spot", "dry-spot", "wrinkle"):
        make_finding(session, photo, kind=kind)
    chosen = choose_builds(session, ALL)

    every = result_values(session, find_result("findings"), chosen)
    dry = result_values(session, find_result("findings"), chosen, kind="dry-spot")

    assert {n: one.count for n, one in every.values.items()} == {looked_at.id: 0, troubled.id: 3}
    assert {n: one.count for n, one in dry.values.items()} == {looked_at.id: 0, troubled.id: 2}
    assert dry.title == "Findings per build (dry spot)"
    with pytest.raises(NotFoundError):
        result_values(session, find_result("findings"), chosen, kind="no-such")


def test_rework_minutes_are_those_of_the_fixes_and_unknown_if_one_is(session):
    part = make_part(session)
    good, fixed, unknown = (make_build(session, part) for _ in range(3))
    make_photo(session, good)
    finding = make_finding(session, make_photo(session, fixed))
    other = make_finding(session, make_photo(session, unknown))
    for of, minutes in ((finding, 20), (finding, 15), (other, 10), (other, None)):
        record_fix(session, of.id, "sanded", minutes=minutes, at=NOON)

    values = result_values(session, find_result("rework"), choose_builds(session, ALL)).values

    assert {n: one.value for n, one in values.items()} == {good.id: 0, fixed.id: 35}


def test_mass_is_told_as_a_share_of_the_target_where_there_is_one(session):
    with_target = make_part(session, "Lid", target_mass_g=2000.0)
    build = make_build(session, with_target, mass_g=2100.0)
    make_build(session, with_target)
    make_build(session, make_part(session, "Door"), mass_g=500.0)

    values = result_values(session, find_result("mass"), choose_builds(session, ALL)).values

    assert {n: one.value for n, one in values.items()} == {build.id: pytest.approx(0.05)}


def test_pinholes_are_told_per_area_and_not_at_all_without_a_scale(session):
    part = make_part(session)
    scaled, unscaled = make_build(session, part), make_build(session, part)
    add_measurement(session, make_photo(session, scaled), 0.01, mm2=5000.0, count=3)
    add_measurement(session, make_photo(session, unscaled), 0.01, mm2=None, count=3)

    values = result_values(session, find_result("pinholes"), choose_builds(session, ALL)).values

    # 3 on half a dm².
    assert {n: (one.value, one.count, one.size) for n, one in values.items()} == {
        scaled.id: (6.0, 3, 0.5)
    }


def test_what_has_no_area_no_mass_and_no_minutes_has_no_value(session):
    make_build(session)

    for result in RESULTS.values():
        assert not result_values(session, result, choose_builds(session, ALL)).values


def test_a_result_that_is_not_there_is_not_found():
    with pytest.raises(NotFoundError):
        find_result("beauty")


def test_figures_are_written_with_their_unit():
    mass = find_result("mass")

    assert mass.write(0.052) == "5.2\N{NO-BREAK SPACE}%"
    change = mass.write_range(-0.01, 0.02, change=True)
    assert change == "\N{MINUS SIGN}1.0 to 2.0\N{NO-BREAK SPACE}points"
    assert mass.write(0) == "0\N{NO-BREAK SPACE}%"
    assert find_result("findings").write(2) == "2"
    voids = find_result("voids")
    assert voids.write(0.00996) == "1.0\N{NO-BREAK SPACE}%"
    assert voids.write_range(0.009, 0.02, change=True) == "0.9 to 2.0\N{NO-BREAK SPACE}points"
    # 0.79 to 1.05 %, which as 0.8 to 1.1 % would be wider by a seventh than it is.
    assert voids.write_range(0.0079, 0.0105) == "0.79 to 1.05\N{NO-BREAK SPACE}%"
    assert voids.write_range(0.0117, 0.0172) == "1.2 to 1.7\N{NO-BREAK SPACE}%"
