"""A histogram drawn on a scale of powers of ten, so that a rare few show beside the many."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 340.0, 150.0
TOP, LOW = 10.0, 118.0  # the ends of the tallest bar; letters stand below


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its top left corner, width and height, and whether it lies past the line."""

    x: float
    y: float
    width: float
    height: float
    is_past: bool


@dataclass(frozen=True, slots=True)
class HistogramDrawing:
    """Bars and the place of the line, in units of a drawing ``width`` by ``height``."""

    bars: tuple[Bar, ...]
    line_x: float | None
    low_y: float = LOW
    width: float = WIDTH
    height: float = HEIGHT


def histogram_drawing(
    edges: Sequence[float], counts: Sequence[int], *, line: float | None = None
) -> HistogramDrawing:
    """Lay out a histogram.

    Parameters
    ----------
    edges : n + 1 ends of the bins, rising
    counts : n counts; a bin without any has no bar
    line : where to draw a line; bars on its far side from zero are past it

    Returns
    -------
    HistogramDrawing
        Cut to the bins that hold something, zero and the line. Heights go with
        log10(1 + count): a bar twice as high is not twice as many, but their product.

    Raises
    ------
    ValueError
        If there is not one edge more than counts.
    """
    if len(edges) != len(counts) + 1:
        raise ValueError(f"{len(counts)} counts need {len(counts) + 1} edges, not {len(edges)}")
    held = [k for k, count in enumerate(counts) if count]
    shown = [edges[k] for k in held] + [edges[k + 1] for k in held] + [0.0]
    if line is not None:
        shown.append(line)
    first, last = min(shown), max(shown)
    across = WIDTH / ((last - first) or 1.0)
    tallest = max((math.log10(1 + counts[k]) for k in held), default=1.0)

    def x_of(value: float) -> float:
        return round((value - first) * across, 2)

    bars = []
    for k in held:
        height = round(math.log10(1 + counts[k]) / tallest * (LOW - TOP), 2)
        middle = (edges[k] + edges[k + 1]) / 2
        bars.append(
            Bar(
                x=x_of(edges[k]),
                y=round(LOW - height, 2),
                width=round((edges[k + 1] - edges[k]) * across, 2),
                height=height,
                is_past=line is not None and middle * line > 0 and abs(middle) > abs(line),
            )
        )
    return HistogramDrawing(tuple(bars), None if line is None else x_of(line))
