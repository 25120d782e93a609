"""Shares as bars: how long each is, and where its interval lies."""

from collections.abc import Sequence
from dataclasses import dataclass

from defectlog.charts.pareto import ParetoBar


@dataclass(frozen=True, slots=True)
class BarDrawing:
    """Length of one bar and both ends of its interval, on a line 0 to 100 long."""

    key: str
    length: float
    low: float
    high: float


def draw_bars(bars: Sequence[ParetoBar]) -> tuple[BarDrawing, ...]:
    """Lay out shares with their intervals, the longest reaching to 100."""
    longest = max((bar.high for bar in bars), default=1.0)
    return tuple(
        BarDrawing(
            bar.key,
            round(100 * bar.share / longest, 2),
            round(100 * bar.low / longest, 2),
            round(100 * bar.high / longest, 2),
        )
        for bar in bars
    )
