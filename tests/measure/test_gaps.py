"""Gaps between tows that are left where the weave was taken out."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure.found import Found
from defectlog.measure.gaps import without_gaps
from defectlog.measure.judging import LINE
from defectlog.measure.light import ONE
from defectlog.measure.shapes import shapes_of
from defectlog.measure.surface import prepare
from tests.benchmarks.voids_accuracy import drawn
from tests.measure.easy import measured

LIGHT_TOW, DARK_TOW = 1.4, 0.6


def kept(
    light: float, *, size: tuple[int, int] = (30, 5), turn: float = 0.0, count: int = 10
) -> int:
    """How many dark objects of a light, so long and wide, are kept on light tows that lie level."""
    row = np.arange(480)[:, None] // 40
    cloth = np.where(row % 2, DARK_TOW, LIGHT_TOW) * np.ones((480, 640))
    mask = np.zeros(cloth.shape, np.uint8)
    for k in range(count):
        at = (80 + 110 * (k % 5), 100 + 160 * (k // 5))  # in the middle of light tows
        corners = cv2.boxPoints((at, size, turn))
        cv2.fillPoly(mask, [np.rint(corners).astype(np.int32)], 1)
    lit = np.where(mask > 0, light, cloth)
    grey = np.rint(120 * (lit / LIGHT_TOW) ** (1 / 2.2)).astype(np.uint8)
    surface = replace(
        prepare(grey, np.ones(mask.shape, bool), 10.0),
        ratio=np.rint(ONE * lit).astype(np.uint16),
        expected=np.rint(ONE * cloth[::2, ::2]).astype(np.uint16),
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


@pytest.mark.parametrize(("name", "salt"), [("carbon, strong", 21), ("carbon, faint, twill", 23)])
def test_gaps_met_astray_are_not_counted_beside_round_voids(name, salt):
    picture = drawn("third", salt, name)

    found = measured(picture)

    # 0.3 and 0.1 % of voids; of gaps as much again, and four times that.
    assert found.void_fraction == pytest.approx(picture.fraction, abs=0.0003)


def test_gaps_met_astray_on_sound_cloth_are_no_voids():
    assert measured(drawn("third", 16, "carbon, sound, tracer")).void_fraction < 0.0001
