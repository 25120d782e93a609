"""Whether the intervals of means hold the truth: shapes, unequal spreads, 4 to 12 builds a side.

    python -m tests.benchmarks.honest_intervals [--shops 2000]

How often the 95 % interval of the difference of two means, and of their ratio, holds the truth, in
per cent. Spreads are coefficients of variation; of counts the excess of their variance over
chance, taken on roots as the pages take them. Beside them what Welch's interval of the values as
they are would do. The same of two settings made on the same days, where days differ by a factor,
beside plain t; the last two of each shape are known to come out low. And how often interval and
permutation test tell two stories: the interval leaves out 0 and p is above 0.1, or it holds 0 and
p is below 0.02.
"""

import argparse
import math

import numpy as np

from defectlog.charts import (
    Turn,
    WithinMeans,
    compare_within,
    mean_interval_of,
    means_within,
    paired_interval,
)

SIDES = ((4, 4), (5, 8), (8, 5), (12, 4), (4, 12), (6, 6), (12, 12))
Cell = tuple[str, float, float, float, float]
CELLS: tuple[Cell, ...] = (
    ("normal", 1, 0.2, 1, 0.2),
    ("normal", 10, 0.1, 8, 0.25),
    *(
        (shape, *numbers)
        for shape in ("log-normal", "gamma")
        for numbers in (
            (1, 0.36, 1, 0.36),
            (2, 0.36, 0.6, 0.36),
            (2, 0.2, 2, 0.5),
            (2, 0.6, 0.6, 0.6),
            (2, 0.6, 1, 0.3),
        )
    ),
    ("counts", 8, 1, 8, 1),
    ("counts", 15, 3, 5, 3),
    ("counts", 3, 3, 3, 3),
)


def drawn(
    rng: np.random.Generator, shape: str, number: int, mean: float, spread: float
) -> np.ndarray:
    """So many values of that shape."""
    if shape == "normal":
        return rng.normal(mean, mean * spread, number)
    if shape == "log-normal":
        sigma = math.sqrt(math.log(1 + spread**2))
        return rng.lognormal(math.log(mean) - sigma**2 / 2, sigma, number)
    if shape == "gamma":
        return rng.gamma(1 / spread**2, mean * spread**2, number)
    own = mean if spread == 1 else rng.gamma(mean / (spread - 1), spread - 1, number)
    return rng.poisson(own, number).astype(float)


def held(
    rng: np.random.Generator, cell: Cell, sides: tuple[int, int], shops: int, *, test: bool = False
) -> tuple[float, float, float, float]:
    """Shares: difference held, ratio held, difference held by Welch, two stories told."""
    shape, mean_a, spread_a, mean_b, spread_b = cell
    turn = Turn.ROOT if shape == "counts" else None
    counts = np.zeros(4)
    ratios = 0
    for _ in range(shops):
        a = drawn(rng, shape, sides[0], mean_a, spread_a).tolist()
        b = drawn(rng, shape, sides[1], mean_b, spread_b).tolist()
        from_it = mean_a - mean_b
        found = _means(a, b, turn)
        plain = _means(a, b, Turn.NONE)
        counts[0] += found.low <= from_it <= found.high
        counts[2] += plain.low <= from_it <= plain.high
        if found.ratio is not None and found.ratio.low is not None:
            ratios += 1
            counts[1] += found.ratio.low <= mean_a / mean_b <= found.ratio.high
        if test:
            p_value = compare_within([(a, b)], turn=turn).p_value
            counts[3] += p_value > 0.1 if found.leaves_out_0 else p_value < 0.02
    return (
        counts[0] / shops,
        counts[1] / max(1, ratios),
        counts[2] / shops,
        counts[3] / shops,
    )


def _means(a: list[float], b: list[float], turn: Turn | None) -> WithinMeans:
    return means_within([(a, b)], turn=turn)


PAIRS: tuple[tuple[Cell, float], ...] = tuple(
    ((shape, *numbers), of_day)
    for shape in ("log-normal", "gamma")
    for numbers, of_day in (
        ((1, 0.36, 1, 0.36), 0.3),
        ((2, 0.36, 0.6, 0.36), 0.3),
        ((2, 0.36, 0.6, 0.36), 0.5),
        ((2, 0.6, 0.6, 0.6), 0),
        ((2, 0.2, 1, 0.2), 0.3),
        ((2, 0.6, 2, 0.6), 0.3),
        # The larger mean spreads more for its size too; days that differ twofold and more.
        ((2, 0.6, 1, 0.3), 0.3),
        ((2, 0.6, 0.6, 0.6), 0.5),
    )
)
DAYS = (2, 3, 4, 6, 10)


def pairs_held(
    rng: np.random.Generator, cell: Cell, of_day: float, days: int, shops: int
) -> tuple[float, float]:
    """Shares of the interval of pairs, and of plain t, that hold the difference of two settings."""
    shape, mean_a, spread_a, mean_b, spread_b = cell
    counts = np.zeros(2)
    for _ in range(shops):
        day = drawn(rng, shape, days, 1, of_day) if of_day else np.ones(days)
        a = day * drawn(rng, shape, days, mean_a, spread_a)
        b = day * drawn(rng, shape, days, mean_b, spread_b)
        found = paired_interval(a.tolist(), b.tolist())
        plain = mean_interval_of((a - b).tolist(), turn=Turn.NONE)
        for place, ends in enumerate((found, plain)):
            counts[place] += ends.low <= mean_a - mean_b <= ends.high
    return tuple(counts / shops)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=2000)
    shops = parser.parse_args().shops
    rng = np.random.default_rng(8)
    print(" " * 42 + "  ".join(f"{a:2} and {b:2}" for a, b in SIDES))
    for cell in CELLS:
        rows = [held(rng, cell, sides, shops) for sides in SIDES]
        name = f"{cell[0]:10} {cell[1]:g} ({cell[2]:g}) and {cell[3]:g} ({cell[4]:g})"
        for place, what in enumerate(("difference", "ratio", "Welch")):
            told = "  ".join(f"{100 * row[place]:9.1f}" for row in rows)
            print(f"{name if not place else '':30} {what:10} {told}", flush=True)
    print("pairs of a day: mean and spread of each, spread of days; 2, 3, 4, 6, 10 days")
    for cell, of_day in PAIRS:
        both = [pairs_held(rng, cell, of_day, days, shops) for days in DAYS]
        for place, what in enumerate(("pairs", "plain t")):
            told = "  ".join(f"{100 * row[place]:9.1f}" for row in both)
            name = "" if place else f"{cell[0]} {cell[1:]} {of_day:g}"
            print(f"{name:38} {what:10} {told}", flush=True)
    print("interval and permutation test tell two stories, % of shops")
    for cell in CELLS[2:7]:
        rows = [held(rng, cell, sides, max(50, shops // 10), test=True) for sides in SIDES[:6]]
        print(f"  {cell!s:38}", "  ".join(f"{100 * row[3]:9.1f}" for row in rows), flush=True)


if __name__ == "__main__":
    main()
