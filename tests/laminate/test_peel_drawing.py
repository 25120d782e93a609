"""The drawings of the peel front, and the table of points that the script is held to as well."""

import json
from pathlib import Path

import pytest

from defectlog.laminate import peel_load
from defectlog.laminate.peel_drawing import BOTTOM, MOST, TOP, arm, curves, place, relative
from defectlog.units import figure

FILE = Path(__file__).parents[1] / "js" / "guide" / "peel-points.json"
POINTS = json.loads(FILE.read_text("utf-8"))


@pytest.mark.parametrize("point", POINTS["loads"], ids=lambda p: f"{p['width_mm']}-{p['angle']}")
def test_pull_and_lift_are_those_of_the_table(point):
    load = peel_load(point["energy"], point["width_mm"], point["angle"])

    assert load.pull_n == pytest.approx(point["pull_n"], abs=1e-6)
    assert load.lift_n == pytest.approx(point["lift_n"], abs=1e-6)


@pytest.mark.parametrize("point", POINTS["places"])
def test_points_lie_where_the_table_says(point):
    assert place(point["angle"], point["multiple"]) == (point["x"], point["y"])


@pytest.mark.parametrize("point", POINTS["arms"], ids=lambda p: str(p["angle"]))
def test_the_arm_turns_about_the_front_as_the_table_says(point):
    found = arm(point["angle"])

    assert found.bend == pytest.approx(point["bend"], abs=1e-6)
    assert found.end == pytest.approx(point["end"], abs=1e-6)
    assert found.lift_y == pytest.approx(point["lift_y"], abs=1e-6)


@pytest.mark.parametrize("point", POINTS["figures"], ids=lambda p: str(p["value"]))
def test_figures_are_written_alike(point):
    assert figure(point["value"], 2) in point.get("words_in", [point.get("words")])


def test_straight_up_all_of_the_pull_is_lift_and_it_is_energy_times_width():
    assert relative(90) == pytest.approx((1, 1))


def test_the_curves_stay_on_the_drawing():
    for line in curves():
        heights = [float(pair.split(",")[1]) for pair in line.split()]
        assert min(heights) >= TOP and max(heights) <= BOTTOM
    # 1 - cos a = 1/4 at 41.4°: below it the pull is more than four times energy times width.
    pull, lift = curves()
    assert len(pull.split()) == 180 - 42 + 1
    assert len(lift.split()) == 180 - 30 + 1
    assert MOST == 4
