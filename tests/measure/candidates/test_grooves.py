"""A core cut crosswise for bending, whose grooves show here and there, in pieces with arms."""

import numpy as np
import pytest

from defectlog.measure.candidates.grooves import in_grooves
from defectlog.measure.outlines.shapes import shapes_of

ROWS, COLUMNS, PX_PER_MM, APART = 900, 1200, 6.5, 160
Y, X = np.mgrid[:ROWS, :COLUMNS]


def grooves_in_pieces() -> np.ndarray:
    """Where grooves 1.2 mm wide show: up to 11 mm to each side of where two of them meet."""
    rng = np.random.default_rng(5)
    net = np.zeros((ROWS, COLUMNS), dtype=bool)
    for y in range(APART // 2, ROWS, APART):
        for x in range(APART // 2, COLUMNS, APART):
            up, down, left, right = rng.integers(4, 72, 4)
            net[y - up : y + down, x - 4 : x + 4] = net[y - 4 : y + 4, x - left : x + right] = True
    return net


def discs(number: int) -> np.ndarray:
    """Where discs of 1.5 mm lie midway between grooves."""
    places = [(APART * (k % 6) + 160, APART * (k // 6) + 160 + 11 * (k % 3)) for k in range(number)]
    return np.logical_or.reduce([np.hypot(X - x, Y - y) < 5 for x, y in places])


def which(mask: np.ndarray) -> np.ndarray:
    """Pixels of a mask that are of objects in grooves."""
    shapes = shapes_of(mask)
    found = in_grooves(shapes, np.arange(len(shapes.area)), mask.shape, px_per_mm=PX_PER_MM)
    drawn = np.zeros_like(mask)
    drawn.ravel()[shapes.at[found[shapes.label]]] = True
    return drawn


def test_pieces_with_arms_along_two_grooves_lie_in_both():
    net, voids = grooves_in_pieces(), discs(24)

    assert np.array_equal(which(net | voids), net)


def test_what_lies_in_grooves_with_a_part_of_itself_alone_is_no_piece_of_them():
    net = grooves_in_pieces()
    tongue = (np.abs(X - 320) < 4) & (np.abs(Y - 280) < 45)  # from a groove, half way to the next

    found = which(net | tongue)

    assert not found[tongue].any()
    assert found[net].mean() > 0.9


@pytest.mark.parametrize("turn_deg", [0, 37])
def test_a_straight_line_by_itself_is_no_groove(turn_deg):
    turn = np.radians(turn_deg)
    aside = (X - 600) * np.cos(turn) - (Y - 440) * np.sin(turn)

    assert not which(np.abs(aside) < 4).any()
