"""Kinds in order of how often they came, each share with its interval."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from defectlog.charts.intervals import wilson


@dataclass(frozen=True, slots=True)
class ParetoBar:
    """One kind: how many, its share of all (0–1) with interval, and the running share."""

    key: str
    count: int
    share: float
    low: float
    high: float
    running: float


def pareto(counts: Mapping[str, int]) -> tuple[ParetoBar, ...]:
    """Sort kinds by count, largest first; equal counts go by key.

    Parameters
    ----------
    counts : kind to whole number from 0
        Kinds with a count of 0 are left out.

    Returns
    -------
    tuple of ParetoBar
        Empty when nothing was counted.

    Raises
    ------
    ChartInputError
        If a count is negative or not whole.

    Notes
    -----
    Wilson intervals of 95 %, each kind for itself: where two of them overlap, their order
    may be chance. Findings of one build are not independent of each other, so the true
    intervals are wider still.
    """
    total = math.fsum(counts.values())
    bars = []
    running = 0
    for key, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        interval = wilson(count, total)
        if interval is None or count == 0:
            continue
        running += count
        bars.append(ParetoBar(key, count, count / total, *interval, running / total))
    return tuple(bars)
