"""What bounds a piece of surface and what does not, by drawings whose answer is plain."""

import math

import numpy as np
import pytest

from defectlog.measure.lengths.drawn_outline import crosses_itself, has_area


def ring(corners: int, *, over: float = 0.0, radius: float = 100.0) -> list[tuple[float, float]]:
    """A finger's way round a circle, ``over`` of a turn too far, drifting outwards a little."""
    turns = np.linspace(0, 1 + over, corners)
    drift = radius * (1 + 0.02 * turns)
    return [
        (200 + r * math.cos(2 * math.pi * t), 200 + r * math.sin(2 * math.pi * t))
        for t, r in zip(turns, drift, strict=True)
    ]


def test_a_bow_tie_crosses_itself():
    assert crosses_itself([(0, 0), (100, 100), (100, 0), (0, 100)])


def test_a_figure_of_eight_drawn_by_finger_crosses_itself():
    turns = 0.01 + np.linspace(0, 2 * math.pi, 200, endpoint=False)
    assert crosses_itself([(100 * math.sin(t), 60 * math.sin(2 * t + 0.3)) for t in turns])


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (100, 0), (0, 100)],
        [(0, 0), (100, 0), (100, 50), (0, 50)],
        # Concave, and with a corner that touches an edge from inside.
        [(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)],
        [(0, 0), (100, 0), (100, 100), (50, 0), (0, 100)],
        # A needle: out and back on one line.
        [(0, 0), (100, 0), (100, 100), (150, 150), (100, 100), (0, 100)],
    ],
)
def test_an_outline_that_only_bends_or_touches_does_not_cross(corners):
    assert not crosses_itself(corners)
    assert not crosses_itself(corners[::-1])
    assert not crosses_itself(corners[2:] + corners[:2])


def test_a_finger_that_overshoots_its_beginning_a_little_is_accepted():
    # One turn ends 2 px outside its beginning; a hundredth more is 6 px, and a hook inwards crosses
    # the first edges: the loop is of some 16 px in 640, 2.5 %.
    way = ring(120, over=0.01)
    x, y = way[0]
    hooked = [*way, (x - 3, y + 6)]

    assert not crosses_itself(hooked)


def test_a_closing_edge_that_slips_over_the_first_edge_is_accepted():
    # The finger comes back inside its beginning and lifts 4 px past it: loops of 10 in 800 px.
    way = [(0, 0), (200, 0), (200, 200), (0, 200), (2, 4), (2, -4)]

    assert not crosses_itself(way)


def test_a_figure_of_eight_begun_in_its_middle_crosses_though_its_closing_edge_is_short():
    # Round the right half from the middle, back through it, round the left half, to the middle.
    way = [(0, 2), (100, 60), (100, -60), (-3, -1), (-100, 60), (-100, -60), (0, -4)]

    assert crosses_itself(way)


def test_a_loop_cut_off_by_an_overshoot_of_a_quarter_turn_is_not_let_pass():
    way = ring(160, over=0.25)
    # Inwards at the end, through the beginning of the turn.
    assert crosses_itself([*way, (200, 250)])


def test_a_trembling_finger_is_accepted():
    # Half a pixel of tremble on steps of a pixel: little loops by the dozen, none of 2 %.
    rng = np.random.default_rng(7)
    way = np.asarray(ring(600)[:-1]) + rng.normal(0, 0.5, (599, 2))

    assert not crosses_itself([tuple(point) for point in way])


@pytest.mark.parametrize("corners", [[(0, 0), (50, 50), (100, 100)], [(5, 9), (5, 40), (5.2, 90)]])
def test_points_on_a_line_have_no_area(corners):
    assert not has_area(corners)


def test_a_thin_outline_has_an_area():
    assert has_area([(0, 0), (300, 0), (300, 2), (0, 2)])
