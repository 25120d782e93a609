"""From values to places on a drawing: what an SVG needs, worked out before any template sees it.

Lengths are in units of the drawing's own viewBox, x to the right, y downwards.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from defectlog.charts.change_lines import ChangeLine, lay_changes
from defectlog.charts.chart import ControlChart, Value, at
from defectlog.charts.ticks import nice_ticks
from defectlog.units import figure


@dataclass(frozen=True, slots=True)
class Sheet:
    """Size of a drawing and of its letters; ``margin_left`` holds the figures of the y axis."""

    width: float
    height: float
    letter: float
    margin_left: float
    margin_right: float = 10
    margin_bottom: float = 40
    margin_top: float = 12


# Two drawings of one chart, so that letters stay legible on either screen: the phone's is
# shown at about its own size at 390 px, the desk's at 992 px.
PHONE = Sheet(width=340, height=280, letter=13, margin_left=46)
DESK = Sheet(width=930, height=340, letter=15, margin_left=58)


@dataclass(frozen=True, slots=True)
class LimitStretch:
    """Centre and limits of the values from ``start`` up to and without ``stop``."""

    start: int
    stop: int
    centre: float
    lower: float | tuple[float, ...]
    upper: float | tuple[float, ...]

    @classmethod
    def of(cls, chart: ControlChart, start: int = 0) -> "LimitStretch":
        """The limits of a chart whose first value is the drawing's value ``start``."""
        return cls(start, start + len(chart.values), chart.centre, chart.lower, chart.upper)


@dataclass(frozen=True, slots=True)
class Tick:
    """A figure on an axis: where along it, and what it says."""

    place: float
    words: str


@dataclass(frozen=True, slots=True)
class Dot:
    """One point: its centre, and the strip of the drawing that answers to a finger.

    ``diamond`` is the path of the shape that a point outside its limits has; None inside.
    """

    index: int
    x: float
    y: float
    strip_x: float
    strip_width: float
    diamond: str | None


@dataclass(frozen=True, slots=True)
class Band:
    """Paths of the area between the limits, of both limits, and of the centre line."""

    area: str
    lower: str
    upper: str
    centre: str


@dataclass(frozen=True, slots=True)
class SeriesDrawing:
    """A control chart, ready to be written down.

    ``left`` to ``bottom`` are the edges of the field of points, ``tall`` its height, ``radius``
    that of a point.
    """

    width: float
    height: float
    letter: float
    left: float
    right: float
    top: float
    bottom: float
    tall: float
    radius: float
    y_ticks: tuple[Tick, ...]
    x_ticks: tuple[Tick, ...]
    x_words_y: float
    title_y: float
    bands: tuple[Band, ...]
    runs: tuple[str, ...]
    dots: tuple[Dot, ...]
    changes: tuple[ChangeLine, ...]


def draw_series(
    values: Sequence[Value],
    labels: Sequence[str],
    *,
    sheet: Sheet,
    limits: Sequence[LimitStretch] = (),
    outside: Sequence[int] = (),
    changes: Sequence[tuple[int, str]] = (),
    breaks: Sequence[int] = (),
    write: Callable[[float], str] = figure,
) -> SeriesDrawing:
    """Lay out values in the order they were made, with limits and marked changes.

    Parameters
    ----------
    values : n numbers in one unit, or None for a gap
    labels : n texts
        Under the points; as many are shown as fit, the last one always.
    sheet : Sheet
    limits : stretches of the values that share their limits
    outside : indices of the points outside their limits
    changes : (index, words), in order
        The line stands just before the point of that index.
    breaks : indices
        No line leads to this point from the one before.
    write : callable
        Writes a number of the y axis with its unit.

    Raises
    ------
    ValueError
        If there are no values, or not one label for each.
    """
    if not values or len(values) != len(labels):
        raise ValueError(f"{len(values)} values and {len(labels)} labels make no drawing")
    pitch = (sheet.width - sheet.margin_left - sheet.margin_right) / len(values)
    top, lines = lay_changes(
        [(_round(sheet.margin_left + index * pitch), words) for index, words in changes],
        letter=sheet.letter,
        width=sheet.width,
        above=sheet.margin_top,
    )
    # Words above make the drawing taller, not the field of points lower.
    height = sheet.height + top - sheet.margin_top
    bottom = height - sheet.margin_bottom
    steps = nice_ticks(*_extent(values, limits))
    scale = _Scale(len(values), sheet, top, bottom, steps[0], steps[-1])
    marked = set(outside)
    return SeriesDrawing(
        width=sheet.width,
        height=_round(height),
        letter=sheet.letter,
        left=sheet.margin_left,
        right=sheet.width - sheet.margin_right,
        top=_round(top),
        bottom=_round(bottom),
        tall=_round(bottom - top),
        radius=_round(min(0.3 * sheet.letter, 0.42 * scale.pitch)),
        y_ticks=tuple(Tick(scale.y(step), write(step)) for step in steps),
        x_ticks=_label_ticks(labels, scale, sheet),
        x_words_y=_round(bottom + 1.3 * sheet.letter),
        title_y=_round(bottom + 2.5 * sheet.letter),
        bands=tuple(_band(stretch, scale) for stretch in limits),
        runs=_runs(values, scale, breaks),
        dots=tuple(
            _dot(index, value, scale, index in marked, sheet)
            for index, value in enumerate(values)
            if value is not None
        ),
        changes=lines,
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    number: int
    sheet: Sheet
    top: float
    bottom: float
    low: float
    high: float

    @property
    def pitch(self) -> float:
        width = self.sheet.width - self.sheet.margin_left - self.sheet.margin_right
        return width / self.number

    def edge(self, index: int) -> float:
        """Where the strip of this point begins."""
        return _round(self.sheet.margin_left + index * self.pitch)

    def x(self, index: int) -> float:
        return _round(self.sheet.margin_left + (index + 0.5) * self.pitch)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return _round(self.bottom - share * (self.bottom - self.top))


def _extent(values: Sequence[Value], limits: Sequence[LimitStretch]) -> tuple[float, float]:
    known = [value for value in values if value is not None]
    for stretch in limits:
        for bound in (stretch.lower, stretch.upper):
            known += bound if isinstance(bound, tuple) else (bound,)
    low, high = min(known, default=0.0), max(known, default=1.0)
    # A share or a count is read from 0; cutting the axis would blow small changes up.
    return (min(low, 0.0), max(high, 0.0))


def _band(stretch: LimitStretch, scale: _Scale) -> Band:
    indices = range(stretch.start, stretch.stop)
    ups, downs = [], []
    for index in indices:
        inside = index - stretch.start
        left, right = scale.edge(index), scale.edge(index + 1)
        high, low = scale.y(at(stretch.upper, inside)), scale.y(at(stretch.lower, inside))
        ups += [(left, high), (right, high)]
        downs += [(left, low), (right, low)]
    middle = scale.y(stretch.centre)
    across = [(scale.edge(stretch.start), middle), (scale.edge(stretch.stop), middle)]
    return Band(
        area=_path([*ups, *reversed(downs)]) + " Z",
        lower=_path(downs),
        upper=_path(ups),
        centre=_path(across),
    )


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + " L".join(f"{x:g} {y:g}" for x, y in points)


def _runs(values: Sequence[Value], scale: _Scale, breaks: Sequence[int]) -> tuple[str, ...]:
    """Lines through neighbouring points; a gap is left open."""
    runs: list[list[str]] = [[]]
    for index, value in enumerate(values):
        if value is None or index in breaks:
            runs.append([])
        if value is not None:
            runs[-1].append(f"{scale.x(index):g},{scale.y(value):g}")
    return tuple(" ".join(run) for run in runs if len(run) > 1)


def _dot(index: int, value: float, scale: _Scale, is_outside: bool, sheet: Sheet) -> Dot:
    x, y = scale.x(index), scale.y(value)
    arm = _round(0.55 * sheet.letter)
    diamond = f"M{x:g} {y - arm:g} l{arm:g} {arm:g} l-{arm:g} {arm:g} l-{arm:g} -{arm:g} Z"
    return Dot(
        index=index,
        x=x,
        y=y,
        strip_x=scale.edge(index),
        strip_width=_round(scale.pitch),
        diamond=diamond if is_outside else None,
    )


def _label_ticks(labels: Sequence[str], scale: _Scale, sheet: Sheet) -> tuple[Tick, ...]:
    widest = max(len(label) for label in labels) * 0.6 * sheet.letter + 0.8 * sheet.letter
    every = max(1, math.ceil(widest / scale.pitch))
    # Counted back from the newest, which is the one looked for.
    shown = range(len(labels) - 1, -1, -every)
    return tuple(Tick(scale.x(index), labels[index]) for index in reversed(shown))


def _round(length: float) -> float:
    """A hundredth of a unit is finer than any screen."""
    return round(length, 2)
