"""What goes with what, and two settings compared: how often simulated shops are fooled.

    python -m tests.benchmarks.honest_comparisons [--shops 200]

Shops with 20 measured facts, 8 of them much alike, and 10 with two or three settings; the result
is skewed as void fractions are. Share of false facts in the list (nominal 10 %) and share of the
true ones found; and how often the intervals of a comparison inside two parts hold the truth
(nominal 95 %).
"""

import argparse
import math

import numpy as np

from defectlog.charts import Column, associations, means_within
from defectlog.charts.association import RATE

SEED = 5
TRUE_FACTS = 3
# The logarithm of the result moves by so much of its own spread of 0.5 for one spread of a fact.
STRENGTH = 0.45


def listed(random: np.random.Generator, builds: int, true: int) -> tuple[float, float]:
    """Of one shop: the share of its list that is false, and the share of true facts in it."""
    common = random.normal(size=builds)
    columns = []
    for place in range(20):
        values = random.normal(size=builds) + (1.5 * common if place < 8 else 0)
        columns.append(Column(f"number {place}", tuple(values.tolist()), is_number=True))
    for place in range(10):
        settings = random.choice(list("abc")[: random.integers(2, 4)], builds)
        columns.append(Column(f"setting {place}", tuple(settings.tolist())))
    log_result = random.normal(0, 0.5, builds)
    moving = columns[10 : 10 + true]
    for column in moving:
        log_result += STRENGTH * np.array(column.values, dtype=float)
    found, _ = associations(np.exp(log_result).tolist(), columns)
    names = {one.name for one in found if one.q_value <= RATE}
    right = names & {column.name for column in moving}
    return len(names - right) / max(1, len(names)), len(right) / max(1, true)


def covered(
    random: np.random.Generator, first: int, second: int, *, skewed: bool
) -> tuple[bool, bool]:
    """Whether the intervals of difference and ratio hold the truth, in one shop of two parts."""
    groups = []
    for level in (0.0, 3.0):
        if skewed:
            a = level + random.lognormal(0.0, 0.4, first)
            b = level + random.lognormal(0.3, 0.4, second)
        else:
            a = level + random.normal(10, 1, first)
            b = level + random.normal(12, 2, second)
        groups.append((a.tolist(), b.tolist()))
    lift = math.exp(0.4**2 / 2)
    mean_a, mean_b = (lift + 1.5, math.exp(0.3) * lift + 1.5) if skewed else (11.5, 13.5)
    means = means_within(groups)
    ratio = means.ratio
    holds = bool(
        ratio
        and ratio.low is not None
        and ratio.high is not None
        and ratio.low <= mean_a / mean_b <= ratio.high
    )
    return means.low <= mean_a - mean_b <= means.high, holds


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=200)
    shops = parser.parse_args().shops
    random = np.random.default_rng(SEED)
    print("builds  true facts  false in list  true found")
    for builds, true in ((24, 0), (60, 0), (24, TRUE_FACTS), (60, TRUE_FACTS)):
        shares = np.mean([listed(random, builds, true) for _ in range(shops)], axis=0)
        found = f"{shares[1]:10.0%}" if true else "         –"
        print(f"{builds:6}  {true:10}  {shares[0]:13.1%}  {found}")
    print("builds of each  skewed  difference held  ratio held")
    for first, second, skewed in ((5, 6, False), (8, 12, False), (8, 12, True), (20, 20, True)):
        held = np.mean(
            [covered(random, first, second, skewed=skewed) for _ in range(10 * shops)], axis=0
        )
        told = f"{first} and {second}"
        print(f"{told:>14}  {'yes' if skewed else 'no':>6}  {held[0]:15.1%}  {held[1]:10.1%}")


if __name__ == "__main__":
    main()
