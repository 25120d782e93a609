"""Groups of values side by side, every one of them to be seen: one strip for each group."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from defectlog.charts.drawing import Sheet, Tick
from defectlog.charts.ticks import nice_ticks
from defectlog.units import figure


@dataclass(frozen=True, slots=True)
class StripDot:
    """One value: which of its group it is, and the centre of its dot."""

    index: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Strip:
    """One group: its name above, its dots, and an upright line at their mean if there are any."""

    words: str
    words_y: float
    top: float
    bottom: float
    mean_x: float | None
    dots: tuple[StripDot, ...]


@dataclass(frozen=True, slots=True)
class StripDrawing:
    """Strips one below the other over a shared axis; lengths as in ``drawing``.

    ``reach`` is how far round its centre a dot answers to a finger without covering another.
    """

    width: float
    height: float
    letter: float
    left: float
    right: float
    bottom: float
    radius: float
    reach: float
    ticks: tuple[Tick, ...]
    ticks_y: float
    strips: tuple[Strip, ...]


def draw_strips(
    groups: Sequence[tuple[str, Sequence[float]]],
    *,
    sheet: Sheet,
    write: Callable[[float], str] = figure,
) -> StripDrawing:
    """Lay out groups of values in one unit.

    Parameters
    ----------
    groups : (name, values), at least one group
    sheet : Sheet
        Its width and letters; the height follows from the number of groups.
    write : callable
        Writes a number of the axis with its unit.

    Raises
    ------
    ValueError
        If there are no groups.
    """
    if not groups:
        raise ValueError("no groups make no drawing")
    known = [value for _, values in groups for value in values]
    # Far from 0, as masses are, an axis from 0 would push all the dots together.
    low, high = min(known, default=0.0), max(known, default=1.0)
    steps = nice_ticks(min(0.0, low) if low <= 0.5 * high else low, high)
    left, right = 1.2 * sheet.letter, sheet.width - 1.8 * sheet.letter
    radius = 0.42 * sheet.letter

    def x(value: float) -> float:
        return round(left + (value - steps[0]) / (steps[-1] - steps[0]) * (right - left), 2)

    strips = []
    top = 0.0
    for words, values in groups:
        words_y = top + 1.1 * sheet.letter
        rows = _rows([x(value) for value in values], 2.1 * radius)
        upper = words_y + 0.5 * sheet.letter
        bottom = upper + (max(rows, default=0) + 1) * 2.2 * radius + 0.6 * sheet.letter
        middle = upper + 0.3 * sheet.letter + 1.1 * radius
        mean = sum(values) / len(values) if values else None
        strips.append(
            Strip(
                words=words,
                words_y=round(words_y, 2),
                top=round(upper, 2),
                bottom=round(bottom, 2),
                mean_x=None if mean is None else x(mean),
                dots=tuple(
                    StripDot(index, x(value), round(middle + row * 2.2 * radius, 2))
                    for index, (value, row) in enumerate(zip(values, rows, strict=True))
                ),
            )
        )
        top = bottom + 0.6 * sheet.letter
    shown = steps if len(steps) * 5.5 * sheet.letter <= sheet.width else steps[::2]
    return StripDrawing(
        width=sheet.width,
        height=round(top + 1.7 * sheet.letter, 2),
        letter=sheet.letter,
        left=round(left, 2),
        right=round(right, 2),
        bottom=round(top, 2),
        radius=round(radius, 2),
        reach=round(1.05 * radius, 2),
        ticks=tuple(Tick(x(step), write(step)) for step in shown),
        ticks_y=round(top + 1.2 * sheet.letter, 2),
        strips=tuple(strips),
    )


def _rows(places: Sequence[float], apart: float) -> list[int]:
    """In which row each dot lies, so that none covers another."""
    rows: list[list[float]] = []
    laid = []
    for place in places:
        row = next(
            (n for n, taken in enumerate(rows) if all(abs(place - p) >= apart for p in taken)),
            len(rows),
        )
        if row == len(rows):
            rows.append([])
        rows[row].append(place)
        laid.append(row)
    return laid
