"""The spread across each surface: beside the builds of a series, and of their scatter."""

from statistics import variance

import pytest

from tests.bench.test_void_series import AFTER, BAGGED, BEFORE, INFUSED, plain, void_series
from tests.builders import make_part, make_photo
from tests.measured import add_build, add_measurement, add_series, spread_of


def test_beside_a_build_stands_its_spread_joined_with_the_measuring_interval(session):
    # Spread 0.3 points, measuring 0.2: √(0.3² + 0.2²) = 0.361 either way.
    part = make_part(session)
    add_build(session, part, 0.02, spread=0.003)

    (point,) = void_series(session, part.id).points

    assert point.made.spread == pytest.approx(0.003)
    assert point.made.low == pytest.approx(0.02 - 0.00361, abs=1e-5)
    assert point.made.high == pytest.approx(0.02 + 0.00361, abs=1e-5)
    assert plain(point.words) == "2.0 % (spread 1.6 to 2.4 %)"


@pytest.mark.parametrize(
    ("second", "spread"),
    [
        # Alike: √((3/4 x 0.3)² + (1/4 x 1.2)²) = 0.375 points.
        (0.02, 0.00375),
        # 2 and 6 % about 3 %: 1.96 x √(2 x ((3/4 x 1)² + (1/4 x 3)²)) = 2.94 points.
        (0.06, 0.0294),
    ],
)
def test_photos_that_differ_by_more_than_their_fields_widen_the_spread(session, second, spread):
    part = make_part(session)
    build = add_build(session, part, None)
    for value, own, mm2 in ((0.02, 0.003, 3000), (second, 0.012, 1000)):
        add_measurement(
            session, make_photo(session, build), value, mm2=mm2, **spread_of(value, own)
        )

    (point,) = void_series(session, part.id).points

    assert point.made.spread == pytest.approx(spread, rel=1e-3)


def test_a_spread_that_ends_at_nothing_is_as_wide_as_to_the_other_side(session):
    part = make_part(session)
    add_build(session, part, 0.002, spread=0.005)

    (point,) = void_series(session, part.id).points

    assert point.made.spread == pytest.approx(0.005)
    assert point.made.low == 0


def test_where_pieces_of_a_surface_differ_as_builds_do_more_photos_are_asked_for(session):
    # t(0.975, 24) is 2.064: a spread of 0.35 points is a standard error of 0.17, the builds
    # differ by s = 0.135. So pieces of a surface make up more than all of it, and by chi-square of
    # 11 (3.816, NIST table 1.3.6.7.4) 1.59 x 3.816 / 11 = 55 % at least.
    part = make_part(session)
    values = [*BEFORE, *BEFORE]
    for value in values:
        add_build(session, part, value, spread=0.0035)

    (remark,) = void_series(session, part.id).remarks

    share = (0.0035 / 2.0639) ** 2 / variance(values)
    assert plain(remark).startswith(
        "The builds differ hardly more than pieces of one of their surfaces do: these make up "
        f"100 % (95 % interval {100 * share * 3.816 / 11:.0f} to 100 %)"
    )
    assert "Photograph more of each part" in remark


def test_where_builds_truly_differ_more_photos_are_said_to_help_little(session):
    # 0.1 points is a standard error of 0.048, builds differ by 0.135: 13 %; by chi-square of 11
    # (3.816 and 21.920, NIST table 1.3.6.7.4) 4 to 26 %.
    part = make_part(session)
    for value in [*BEFORE, *BEFORE]:
        add_build(session, part, value, spread=0.001)

    trend = void_series(session, part.id)

    assert trend.remarks == ()
    (said,) = [one for one in trend.asides if "makes up" in one]
    assert "makes up 13 % (95 % interval 4 to 26 %)" in plain(said)
    assert any("joined in root-sum-square" in one for one in trend.asides)


def test_of_few_builds_or_without_a_spread_nothing_is_said_of_it(session):
    few, bare = make_part(session), make_part(session, "Lid")
    for value in BEFORE[:5]:
        add_build(session, few, value, spread=0.001)
    add_series(session, bare, BEFORE)

    assert not any("makes up" in one for one in void_series(session, few.id).asides)
    assert not any("spread" in one for one in void_series(session, bare.id).asides)


def test_a_known_change_and_a_leak_are_no_scatter_from_build_to_build(session):
    # Before and after scatter little; the drop between them and the leak are far larger.
    part = make_part(session)
    for values, facts in ((BEFORE, BAGGED), (AFTER, INFUSED)):
        for value in values:
            add_build(session, part, value, spread=0.003, **facts)
    add_build(session, part, 0.06, spread=0.003, vacuum_lost=True, **INFUSED)

    remarks = void_series(session, part.id).remarks

    assert any("Photograph more of each part" in one for one in remarks)
