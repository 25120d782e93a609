"""The rest of a dyed yarn: slivers between two tows over it, and dashes that others do not meet."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.candidates.joined_dashes import parted
from defectlog.measure.cloth.weave_objects import Objects
from defectlog.measure.outlines.shapes import Shapes, sized

# Dashes are as large as half the area of all cloth is in objects of, or more than half as large,
# and so much longer than wide; fewer are no yarn, and more are not looked through, or for slivers.
HALF, LONGER, FEWEST, MOST = 0.5, 1.15, 4, 1000
# Their dashes point one way or across it, 0.77 of them and more on rendered surfaces; of pockets of
# resin between tows at most 0.65 do.
ONE_WAY = 0.7
# What is as long and wide as they are, and lies on the line of one, is a dash.
ALIKE, TIMES = 1.2, 3
# A sliver lies across the yarn, as long as this is wide but for what light tows take of it, is
# narrower than so much of its length, and on the line of a dash, within some of its lengths.
SAME_DEG, LEAST_LONG, MOST_LONG, NARROW = 15.0, 0.45, 1.2, 0.6
ASIDE, LENGTHS = 0.25, 2.5
# What a void has joined is larger, by so many times at most, and may lie aside. Between two dashes
# of a satin lie so many of their lengths.
LARGER, JOINED_ASIDE, APART = 4.0, 0.5, 8.0
# The way a short dash points is as good as chance: that of those that are near and about as it is
# is the yarn's.
NEAR, ABOUT_DEG = 8.0, 30.0


@dataclass(frozen=True, slots=True)
class Yarns:
    """What shows of dyed yarns: the lines of their dashes, and slivers, objects from 0."""

    lines: "_Lines"
    slivers: IndexArray

    @property
    def all(self) -> IndexArray:
        """Dashes and slivers."""
        return np.union1d(self.lines.dashes, self.slivers)

    def jutting_out(self, columns: int) -> IndexArray:
        """What voids have joined to dashes: pixels of the flattened picture of so many columns."""
        lines, area = self.lines, self.lines.shapes.area[self.lines.dashes]
        large = area > np.median(area)
        return lines.parted(lines.dashes[large], lines.turn[large], columns)[1]


def yarns_of(objects: Objects, cloth: BoolImage, columns: int) -> Yarns | None:
    """All that shows of yarns of which dashes are known; None where there is no yarn.

    Parameters
    ----------
    objects : from ``weave_objects.objects_of``
    cloth : (n + 1,) bool, those that are known for cloth, as ``weave_objects.repeating`` gives them
    columns : of the picture

    Notes
    -----
    A yarn that goes below two tows at once shows in the gap between these, as wide as it is and as
    dark: more of it or less from gap to gap, so that slivers do not repeat as dashes do. Nor do
    dashes near to the edge, or where the cloth bends, or that a void has joined.
    """
    dashes = _dashes(objects.areas, cloth)
    if not FEWEST <= np.count_nonzero(dashes) <= MOST:
        return None
    shapes = sized(objects.at, objects.label - 1, count=len(cloth) - 1, columns=columns)
    dashes = np.flatnonzero(dashes[1:] & (shapes.length > LONGER * shapes.breadth))
    if len(dashes) < FEWEST or _one_way(shapes, dashes) < ONE_WAY:
        return None
    lines = _lines_through(shapes, dashes)
    others = ~cloth[1:] & (shapes.length > LEAST_LONG * lines.wide)
    alike = _is_usual(shapes.length, lines.long) & _is_usual(shapes.breadth, lines.wide)
    for _ in range(TIMES):
        more = np.setdiff1d(np.flatnonzero(alike & others), lines.dashes)
        lines = lines.and_(more[lines.meet(more, ASIDE, LENGTHS, across=False)])
    lines = lines.and_(_joined(lines, columns))
    slivers = others & (shapes.length < MOST_LONG * lines.wide)
    slivers = np.flatnonzero(slivers & (shapes.breadth < NARROW * shapes.length))
    slivers = np.setdiff1d(slivers, lines.dashes)
    if max(len(lines.dashes), len(slivers)) > MOST:
        return None
    slivers = slivers[lines.meet(slivers, ASIDE, LENGTHS, across=True)]
    return Yarns(lines, slivers)


def _dashes(areas: FloatArray, cloth: BoolImage) -> BoolImage:
    order = np.sort(areas[cloth])
    upto = order.cumsum()
    return cloth & (areas > HALF * order[np.searchsorted(upto, 0.5 * upto[-1])])


def _is_usual(size: FloatArray, usual: float) -> BoolImage:
    return (size < ALIKE * usual) & (size > usual / ALIKE)


def _joined(lines: "_Lines", columns: int) -> IndexArray:
    """Dashes that voids have joined, beside those that are known."""
    area, usual = lines.shapes.area, float(np.median(lines.shapes.area[lines.dashes]))
    some = np.flatnonzero((area > usual) & (area < LARGER * usual))
    some = np.setdiff1d(some, lines.dashes)
    if len(some) > MOST:
        return some[:0]
    some = some[lines.meet(some, JOINED_ASIDE, APART)]
    return some[lines.parted(some, lines.ways(some), columns)[0]]


@dataclass(frozen=True, slots=True)
class _Lines:
    """The lines that dashes lie on, ``turn`` radians round.

    Which way is told by those that are ``whole``; ``long`` and ``wide`` are most of them.
    """

    shapes: Shapes
    dashes: IndexArray
    turn: FloatArray
    whole: IndexArray
    long: float
    wide: float

    def and_(self, more: IndexArray) -> "_Lines":
        """With the lines of more dashes."""
        if not len(more):
            return self
        turn = np.append(self.turn, self.ways(more))
        return replace(self, dashes=np.append(self.dashes, more), turn=turn)

    def ways(self, some: IndexArray) -> FloatArray:
        """Which way yarns run at some objects, in radians: the mean of what is near."""
        shapes, whole = self.shapes, self.whole
        way = _ways(shapes, whole)
        far = np.hypot(*(at[some][:, None] - at[whole] for at in (shapes.x, shapes.y)))
        there = way[far.argmin(axis=1)][:, None]
        about = there.real * way.real + there.imag * way.imag > math.cos(
            math.radians(2 * ABOUT_DEG)
        )
        about &= far <= np.maximum(NEAR * self.long, far.min(axis=1))[:, None]
        return np.angle(about @ way) / 2

    def parted(
        self, some: IndexArray, turn: FloatArray, columns: int
    ) -> tuple[BoolImage, IndexArray]:
        """Which of some objects hold a dash, and the pixels that jut out of it."""
        return parted(self.shapes, some, turn, size=(self.long, self.wide), columns=columns)

    def meet(
        self, some: IndexArray, aside: float, lengths: float, *, across: bool | None = None
    ) -> BoolImage:
        """Which of some objects lie on a line, near to its dash.

        Along it or ``across``, if that is asked for; not further aside than so many breadths.
        """
        shapes, turn = self.shapes, self.turn
        down, right = (at[some][:, None] - at[self.dashes] for at in (shapes.y, shapes.x))
        along = right * np.cos(turn) - down * np.sin(turn)
        off = right * np.sin(turn) + down * np.cos(turn)
        on = (np.abs(off) < aside * self.wide) & (np.abs(along) < lengths * self.long)
        if across is not None:
            apart = np.radians(shapes.direction_deg[some])[:, None] - turn
            same = np.abs(np.sin(apart) if across else np.cos(apart))
            on &= same > math.cos(math.radians(SAME_DEG))
        return on.any(axis=1)


def _lines_through(shapes: Shapes, dashes: IndexArray) -> _Lines:
    long, wide = (float(np.median(side[dashes])) for side in (shapes.length, shapes.breadth))
    whole = np.concatenate([_whole(shapes, family) for family in _families(shapes, dashes)])
    whole = np.sort(whole) if len(whole) else dashes
    return _Lines(shapes, dashes[:0], np.zeros(0), whole, long, wide).and_(dashes)


def _ways(shapes: Shapes, some: IndexArray) -> NDArray[np.complex128]:
    """Which way some objects point, either way alike."""
    return np.exp(2j * np.radians(shapes.direction_deg[some]))


def _one_way(shapes: Shapes, dashes: IndexArray) -> float:
    """How much dashes point one way, or across it: 0 is any way, 1 just that."""
    return float(np.abs(np.mean(_ways(shapes, dashes) ** 2)))


def _families(shapes: Shapes, dashes: IndexArray) -> list[IndexArray]:
    """Dashes of yarns along one way and of those across it, if there are some of both."""
    way = _ways(shapes, dashes)
    # Ways across each other are alike once doubled again.
    main = np.exp(0.5j * np.angle(np.mean(way**2)))
    is_one = (way * np.conj(main)).real > 0
    families = [dashes[which] for which in (is_one, ~is_one) if np.count_nonzero(which) >= FEWEST]
    return families or [dashes]


def _whole(shapes: Shapes, family: IndexArray) -> IndexArray:
    """Those of some dashes that are as long and as wide as usual."""
    sides = [side[family] for side in (shapes.length, shapes.breadth)]
    is_usual = [_is_usual(side, float(np.median(side))) for side in sides]
    return family[np.logical_and(*is_usual)]
