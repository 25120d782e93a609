"""Gaps between tows that are left where the weave was taken out."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure.arrays.light import ONE
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.following import Places, Step
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.outlines.judging import LINE
from defectlog.measure.outlines.shapes import shapes_of
from defectlog.measure.search.gaps import without_gaps
from tests.benchmarks.voids_accuracy import drawn
from tests.measure.easy import measured

LIGHT_TOW, DARK_TOW = 1.4, 0.6
SHAPE = (480, 640)
APART = 110  # along a tow, from one object to the next
CELL = 16


def moved(across: float) -> Step:
    """From every place so many pixels on along the row."""
    middles = [(np.arange(-1, side // CELL + 1) + 0.5) * CELL - 0.5 for side in SHAPE]
    row, column = np.meshgrid(*middles, indexing="ij")
    return Step(np.stack([row, column + across]).astype(np.float32), CELL)


def every(across: float) -> Places:
    """Places along the row, so many pixels apart, of both families of tows."""
    steps = tuple(moved(across * k) for k in (1, 2, 3, -1, -2, -3))
    return steps, steps


def kept(
    light: float,
    *,
    size: tuple[int, int] = (30, 5),
    turn: float = 0.0,
    count: int = 10,
    places: Places | None = None,
    round_too: bool = False,
) -> int:
    """How many dark objects of a light, so long and wide, are kept on light tows that lie level.

    Each fifth lies on the next such tow but one; ``round_too`` is whether as many round ones and
    half as many again do on other tows.
    """
    row = np.arange(SHAPE[0])[:, None] // 40
    cloth = np.where(row % 2, DARK_TOW, LIGHT_TOW) * np.ones(SHAPE)
    mask = np.zeros(cloth.shape, np.uint8)
    for k in range(count):
        at = (80 + APART * (k % 5), 100 + 160 * (k // 5))  # in the middle of light tows
        corners = cv2.boxPoints((at, size, turn))
        cv2.fillPoly(mask, [np.rint(corners).astype(np.int32)], 1)
    for k in range(15 * round_too):
        cv2.circle(mask, (80 + APART * (k % 5), (180, 340, 420)[k // 5]), 6, 1, -1)
    lit = np.where(mask > 0, light, cloth)
    grey = np.rint(120 * (lit / LIGHT_TOW) ** (1 / 2.2)).astype(np.uint8)
    surface = replace(
        prepare(grey, np.ones(mask.shape, bool), 10.0),
        ratio=np.rint(ONE * lit).astype(np.uint16),
        expected=np.rint(ONE * cloth[::2, ::2]).astype(np.uint16),
        places=places,
    )
    shapes = shapes_of(mask > 0)
    each = np.ones(len(shapes.area))
    found = Found(
        mask=mask > 0,
        shapes=shapes,
        area=shapes.area,
        kept=each > 0,
        height=each,
        unsure_px=each,
        look="dark",
        threshold=0.3,
        blur_px=None,
        turned=(),
        struck=np.zeros(mask.shape, bool),
        repeats=[],
    )

    left = without_gaps(found, surface)

    assert [one.why for one in left.turned] == [LINE] * (not left.kept.all())
    return np.count_nonzero(left.kept)


def test_what_is_long_along_tows_and_no_darker_than_dark_cloth_is_a_gap():
    assert kept(0.7) == 0


@pytest.mark.parametrize(
    "so",
    [
        {"light": 0.4},  # darker than any tow
        {"light": 0.7, "size": (12, 10)},  # no longer than wide
        {"light": 0.7, "turn": 45.0},  # across the tows
        {"light": 0.7, "count": 5},  # so few say nothing
    ],
)
def test_what_is_otherwise_is_none(so):
    assert kept(**so) == so.get("count", 10)


def test_what_is_dark_along_tows_and_comes_up_again_further_on_is_a_gap():
    assert kept(0.4, places=every(APART)) == 0


def test_what_does_not_come_up_again_is_none():
    assert kept(0.4, places=every(28)) == 10


def test_where_most_that_is_round_comes_up_again_too_that_is_chance():
    assert kept(0.4, places=every(APART), round_too=True) == 25


@pytest.mark.parametrize(("name", "salt"), [("carbon, strong", 21), ("carbon, faint, twill", 23)])
def test_gaps_met_astray_are_not_counted_beside_round_voids(name, salt):
    picture = drawn("third", salt, name)

    found = measured(picture)

    # 0.3 and 0.1 % of voids; of gaps as much again, and four times that.
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0003)


def test_gaps_met_astray_on_sound_cloth_are_no_voids():
    assert measured(drawn("third", 16, "carbon, sound, tracer")).void_fraction < 0.0001
