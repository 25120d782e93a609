"""A set too large to be drawn whole: its first builds set the limits, its newest are shown."""

import pytest

from defectlog.bench import build_sets, first_builds
from defectlog.bench.build_sets import BuildSet
from defectlog.bench.first_builds import frame_builds
from defectlog.bench.results import find_result
from defectlog.bench.series import result_series, series_table
from defectlog.charts import individuals
from tests.builders import make_build, make_part

BAGGED = {"process": "bagged-wet-layup"}
INFUSED = {"process": "infusion"}
EFFORT = find_result("effort")
DRAWN = 8


@pytest.fixture
def few_drawn(monkeypatch):
    """Eight builds fill a chart, so that tests need not make hundreds."""
    monkeypatch.setattr(
        first_builds,
        "choose_builds",
        lambda session, wanted: build_sets.choose_builds(session, wanted, most=DRAWN),
    )


def add_minutes(session, part, minutes, **facts):
    return [make_build(session, part, effort_min=value, **facts) for value in minutes]


def test_a_set_that_fits_is_drawn_whole(session, few_drawn):
    add_minutes(session, make_part(session), [100] * DRAWN)

    frame = frame_builds(session, BuildSet())

    assert frame.first == () and len(frame.newest.made) == DRAWN


def test_limits_rest_on_the_first_builds_however_many_come_after(session, few_drawn):
    part = make_part(session)
    first = [100, 102, 104, 101, 103] * 4
    add_minutes(session, part, [*first, *[130] * 30])

    series = result_series(session, BuildSet(part=part.id), EFFORT)

    expected = individuals(first)
    assert [point.number for point in series.points] == [*range(1, 21), *range(43, 51)]
    assert series.points[0].upper == pytest.approx(expected.upper)
    assert series.points[-1].upper == pytest.approx(expected.upper)
    assert len(series.outside) == DRAWN
    assert series.charted.gap == 20 and series.charted.left_out == 22
    assert any("22 older builds are not drawn" in words for words in series.basis)


def test_one_more_build_moves_no_limit(session, few_drawn):
    part = make_part(session)
    add_minutes(session, part, [100, 102, 104, 101, 103] * 8)
    before = result_series(session, BuildSet(), EFFORT).points[-1].upper
    add_minutes(session, part, [150])

    assert result_series(session, BuildSet(), EFFORT).points[-1].upper == before


def test_the_first_builds_are_those_after_the_last_marked_change(session, few_drawn):
    part = make_part(session)
    add_minutes(session, part, [200, 204] * 6, **BAGGED)
    add_minutes(session, part, [100, 104] * 20, **INFUSED)

    series = result_series(session, BuildSet(), EFFORT)

    assert series.points[0].number == 13
    assert [change.number for change in series.changes] == [13]
    assert series.points[-1].centre == pytest.approx(102)


def test_a_change_among_the_builds_drawn_is_found_with_what_came_long_before(session, few_drawn):
    part = make_part(session)
    add_minutes(session, part, [200, 204] * 12, **BAGGED)
    add_minutes(session, part, [100, 104, 100, 104], **INFUSED)

    series = result_series(session, BuildSet(), EFFORT)

    assert [change.number for change in series.changes] == [25]
    assert "fell from 202" in series.sentence


def test_a_fact_that_went_to_and_fro_long_ago_marks_no_change_today(session, few_drawn):
    part = make_part(session)
    for process in (BAGGED, INFUSED) * 4:
        add_minutes(session, part, [100, 101], **process)
    add_minutes(session, part, [100] * DRAWN, **BAGGED)

    assert result_series(session, BuildSet(), EFFORT).changes == ()


def test_no_run_and_no_step_reaches_across_builds_that_are_not_drawn(session, few_drawn):
    # The first twenty lie about 102; then 104 for ever: four of them and four more are no eight.
    part = make_part(session)
    first = [100, 104] * 8 + [103] * 4
    add_minutes(session, part, [*first, *[100, 104] * 6, *[103] * 4, *[100, 101] * 2])

    series = result_series(session, BuildSet(), EFFORT, run_rules=True)

    assert series.charted.gap == 20
    assert not any("eight" in words for point in series.runs for words in point.runs)
    assert series.steps is not None and series.steps.values[20] is None
    assert len(series_table(series)) == 1 + len(series.points)


def test_when_the_first_builds_have_no_value_that_is_said(session, few_drawn, monkeypatch):
    monkeypatch.setattr(first_builds, "_LOOKED_THROUGH", 5)
    part = make_part(session)
    for _ in range(10):
        make_build(session, part)
    add_minutes(session, part, [100, 104] * 4)

    series = result_series(session, BuildSet(), EFFORT)

    assert series.charted.gap is None
    assert any("move as builds are added" in words for words in series.basis)


def test_a_large_set_can_be_of_a_process_and_a_material_too(session, few_drawn):
    part = make_part(session)
    add_minutes(session, part, [100, 104] * 15, resin_system="R 1", **BAGGED)

    series = result_series(session, BuildSet(process="bagged-wet-layup", material="R 1"), EFFORT)

    assert series.charted.gap == 20
