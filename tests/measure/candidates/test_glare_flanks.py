"""Bright objects drawn beside glare."""

import numpy as np

from defectlog.measure.candidates.glare_flanks import lie_on_flanks
from defectlog.measure.outlines.outline import Rise

Y, X = np.indices((480, 640))


def flanks(
    objects: list[np.ndarray], glare: np.ndarray, heights: list[float], grounds: list[float]
) -> list[bool]:
    """Which objects are flanks where a pixel is asked for 0.15, by their height and ground."""
    at = [np.flatnonzero(one & ~glare) for one in objects]
    label = np.repeat(np.arange(len(at)), [len(one) for one in at])
    areas = np.repeat([[float(len(one))] for one in at], 3, axis=1)
    rise = Rise(np.zeros(0, np.float32), np.array(heights), np.array(grounds), areas, areas[:, 0])
    return lie_on_flanks(np.concatenate(at), label, rise, glare, asked=0.15, px_per_mm=10).tolist()


GLARE = np.hypot(X - 400, Y - 200) < 80
BESIDE = [np.hypot(X - 400 - 90, Y - 200) < 9, np.hypot(X - 400, Y - 200 + 90) < 9]


def test_bright_objects_are_the_flanks_of_glare_where_most_of_them_lie_along_it():
    apart = [np.hypot(X - x, Y - 380) < radius for x, radius in ((60, 7), (160, 7), (260, 15))]

    assert flanks([*BESIDE, *apart[:2]], GLARE, [0.1] * 4, [0.1] * 4) == [True] * 4
    assert flanks([*BESIDE, *apart], GLARE, [0.1] * 5, [0.1] * 5) == [False] * 5


def test_what_stands_out_by_itself_further_off_is_no_flank():
    apart = [np.hypot(X - x, Y - 380) < 5 for x in (60, 160, 260)]

    # The last is the surface beside a dark void: it stands out from that by 0.3, else by 0.1.
    told = flanks([*BESIDE, *apart], GLARE, [0.4, 0.4, 0.4, 0.12, 0.3], [0.1, 0.1, 0, 0.1, -0.2])

    assert told == [True, True, False, True, True]


def test_a_little_that_stands_out_close_to_pieces_of_glare_is_one_of_these():
    x, y = 400 + 90 + 9, 200  # the far side of a piece
    close, further, large = (
        np.hypot(X - x - off, Y - y) < radius for off, radius in ((25, 5), (60, 5), (25, 11))
    )

    told = flanks([*BESIDE, close, further], GLARE, [0.4] * 4, [0.1, 0.1, 0, 0])

    assert told == [True, True, True, False]
    # And of much nothing is, or it may be what voids there are.
    assert flanks([*BESIDE, large], GLARE, [0.4] * 3, [0.1, 0.1, 0]) == [True, True, False]
