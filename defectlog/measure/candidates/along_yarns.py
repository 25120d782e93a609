"""What is left along dyed yarns: it is theirs where voids would not gather so."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.yarns import APART, ASIDE, MOST_LONG, Yarns
from defectlog.measure.outlines import judging

# Voids lie anywhere: along yarns are as many for the area as beside them. Several times as many are
# what shows of the yarn between two tows.
TIMES, FEWEST = 3.0, 5


@dataclass(frozen=True, slots=True, eq=False)
class AlongYarns:
    """Where dyed yarns run, between their dashes as well, and how long what shows of them is."""

    ends: list[tuple[tuple[int, int], tuple[int, int]]]  # columns and rows
    thick: int
    shape: tuple[int, int]  # of the picture
    most_long: float

    @classmethod
    def of(cls, yarns: Yarns, shape: tuple[int, int]) -> "AlongYarns":
        """Where some yarns run on a picture of a shape."""
        lines, between = yarns.lines, []
        thick = max(1, round(2 * ASIDE * lines.wide))
        half = APART * lines.long / 2
        for x, y, turn in zip(
            lines.shapes.x[lines.dashes], lines.shapes.y[lines.dashes], lines.turn, strict=True
        ):
            along = half * math.cos(turn), -half * math.sin(turn)
            first, last = (
                (round(x + way * along[0]), round(y + way * along[1])) for way in (-1, 1)
            )
            between.append((first, last))
        return cls(between, thick, shape, MOST_LONG * lines.wide)

    def drawn(self) -> BoolImage:
        """A mask of where they run."""
        where = np.zeros(self.shape, np.uint8)
        for ends in self.ends:
            cv2.line(where, *ends, 1, self.thick)
        return where.view(np.bool_)

    def _left_of(self, found: Found, inspected: BoolImage) -> BoolImage:
        """Which voids are what shows of yarns, (n,) bool.

        Those with their middles along yarns and no longer than these are wide, if there are far
        more of such than lie beside yarns for the area.
        """
        shapes, where = found.shapes, self.drawn()
        row, column = (np.rint(place).astype(np.int64) for place in (shapes.y, shapes.x))
        on = found.kept & where[row, column]
        there = np.count_nonzero(where & inspected) / np.count_nonzero(inspected)
        beside = np.count_nonzero(found.kept & ~on)
        on &= shapes.length < self.most_long
        expected = beside * there / max(1 - there, 0.1)
        is_far_more = np.count_nonzero(on) >= max(FEWEST, TIMES * expected)
        return on if is_far_more else np.zeros_like(on)

    def without(self, found: Found, inspected: BoolImage) -> Found:
        """Without what is left of yarns; it may be voids for all that."""
        left = self._left_of(found, inspected)
        if not left.any():
            return found
        return replace(
            found.without(left, judging.WEAVE),
            struck=found.struck | found.drawn(left),
            doubtful_px=found.doubtful_px + float(found.area[left].sum()),
        )
