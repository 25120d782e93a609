"""How honest the shares of causes are: simulated shops where the true cause is known.

    python -m tests.benchmarks.cause_calibration [--shops 20] [--cases 20] [--seed 1]

Draws defects of every kind of the guide in several worlds (see tests/benchmarks/shops.py) and
ranks their causes with ``guide.rank``, with the prior alone, and with naive multiplication: every
declared factor in full, no groups, no cap, nothing kept for something else.

Printed: the Brier score (sum over the causes of (share - what was so)², 0 is best; an interval
is 1.96 standard errors over shops) and how far the leader's share is above the frequency with
which it is the cause; then, by predicted share, how often it was so; then the same shops as
their own confirmed cases grow. "None of it true" cannot be won by anything but the prior: it
shows what it costs when the guide is wrong throughout.

With 20 shops a kind and seed 1, 12 400 cases a world: see ``defectlog.guide.rank``. The half that
is counted of every strength was chosen on other seeds, from 1, 0.7, 0.5 and 0.35: whole strengths
stood 9 to 14 points above the truth and beat the prior hardly or not at all.
"""

import argparse
from collections.abc import Callable, Mapping, Sequence
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectlog.charts.intervals import wilson
from defectlog.guide import Kind, kinds, library, rank
from defectlog.guide.ranked import SOMETHING_ELSE
from defectlog.guide.weighing import prior_shares
from tests.benchmarks.shops import AS_DECLARED, HALF, OTHER_CAUSES, WORLDS, Case, Shop, World

Shares = Mapping[str, float]
Way = Callable[[Kind, Mapping[str, Any]], Shares]
BINS = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)


def ours(kind: Kind, facts: Mapping[str, Any], history: Mapping[str, int] | None = None) -> Shares:
    return {ranked.key: ranked.share for ranked in rank(kind, facts, history).causes}


def prior(kind: Kind, facts: Mapping[str, Any]) -> Shares:
    return prior_shares(kind, library.shared())


def naive(kind: Kind, facts: Mapping[str, Any]) -> Shares:
    """Every declared factor multiplied in full, as if all facts were independent and certain."""
    weights = dict(prior(kind, facts))
    for cause in kind.causes:
        for effect in cause.facts:
            if effect.fact in facts and effect.speaks(facts[effect.fact]):
                weights[cause.key] *= effect.odds
    total = sum(weights.values())
    return {key: weight / total for key, weight in weights.items()}


WAYS: dict[str, Way] = {"ours": ours, "prior": prior, "naive": naive}


def brier(shares: Shares, cause: str) -> float:
    return sum((share - (key == cause)) ** 2 for key, share in shares.items())


def shops_of(world: World, shops: int, cases: int, seed: int) -> list[tuple[Kind, list[Case]]]:
    rng = np.random.default_rng(seed)
    return [
        (kind, list(Shop(kind, world, rng).cases(cases))) for kind in kinds() for _ in range(shops)
    ]


def scores(way: Way, held: Sequence[tuple[Kind, list[Case]]]) -> NDArray[np.float64]:
    """For each shop (row): mean Brier score, mean share of the leader, how often it was so."""
    rows = []
    for kind, cases in held:
        row = []
        for case in cases:
            shares = way(kind, case.facts)
            leader = max(shares, key=shares.__getitem__)
            row.append((brier(shares, case.cause), shares[leader], leader == case.cause))
        rows.append(np.mean(row, axis=0))
    return np.array(rows)


def with_interval(values: NDArray[np.float64], digits: int = 3) -> str:
    half = 1.96 * values.std(ddof=1) / sqrt(len(values))
    return f"{values.mean():+.{digits}f} ± {half:.{digits}f}"


def worlds(shops: int, cases: int, seed: int) -> None:
    print("Brier score, and its difference to the prior alone (below 0: better)")
    print(f"{'world':28} {'prior':>6} {'ours':>6} {'naive':>6}  ours - prior     naive - prior")
    over = []
    for world in WORLDS:
        held = shops_of(world, shops, cases, seed)
        by = {name: scores(way, held) for name, way in WAYS.items()}
        base = by["prior"][:, 0]
        print(
            f"{world.name:28} "
            + " ".join(f"{by[name][:, 0].mean():6.3f}" for name in ("prior", "ours", "naive"))
            + "  "
            + "   ".join(with_interval(by[name][:, 0] - base) for name in ("ours", "naive"))
        )
        over.append((world.name, by))
    print(
        "\nLeader: mean share less how often it was the cause, in points (above 0: over-confident)"
    )
    print(f"{'world':28} {'ours':>12} {'naive':>14}   the leader was right: prior, ours, naive")
    for name, by in over:
        gaps = (with_interval(100 * (by[w][:, 1] - by[w][:, 2]), 1) for w in ("ours", "naive"))
        right = ", ".join(f"{100 * by[w][:, 2].mean():.0f} %" for w in ("prior", "ours", "naive"))
        print(f"{name:28} {'   '.join(gaps)}   {right}")


def reliability(world: World, shops: int, cases: int, seed: int) -> None:
    """How often a cause given a share of so much was the true one."""
    held = shops_of(world, shops, cases, seed)
    print(
        f"\nReliability, {world.name}: of shares between … the cause was the true one in … of cases"
    )
    print(f"{'share, %':>10}" + "".join(f" {name:>28}" for name in ("ours", "naive")))
    tables = {name: pairs(WAYS[name], held) for name in ("ours", "naive")}
    for low, high in zip(BINS, BINS[1:], strict=False):
        cells = [bin_words(*tables[name], low, high) for name in tables]
        print(f"{100 * low:4.0f} to {100 * high:3.0f}" + "".join(f" {cell:>28}" for cell in cells))


def pairs(
    way: Way, held: Sequence[tuple[Kind, list[Case]]]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Every share given to a named cause, and whether that was the true one."""
    rows = [
        (share, key == case.cause)
        for kind, cases in held
        for case in cases
        for key, share in way(kind, case.facts).items()
        if key != SOMETHING_ELSE
    ]
    shares, true = zip(*rows, strict=True)
    return np.array(shares), np.array(true)


def bin_words(shares: NDArray[np.float64], true: NDArray[np.bool_], low: float, high: float) -> str:
    inside = (shares >= low) & ((shares < high) | (high == 1.0))
    if inside.sum() < 20:
        return "too few"
    found = wilson(int(true[inside].sum()), int(inside.sum()))
    return (
        f"{100 * shares[inside].mean():.1f}: {100 * true[inside].mean():.1f} "
        f"({100 * found.low:.1f}–{100 * found.high:.1f})"
    )


def growing(world: World, shops: int, seed: int) -> None:
    """The same shops as their own confirmed cases grow: history used, and not."""
    print(f"\nThe shop's own confirmed cases, {world.name} (own mix of causes in every shop)")
    print(f"{'own cases':>9} {'without':>8} {'with':>6}   with - without    leader's share - right")
    rng = np.random.default_rng(seed)
    held = [(kind, Shop(kind, world, rng)) for kind in kinds() for _ in range(shops)]
    past: list[dict[str, int]] = [{} for _ in held]
    for count in (0, 5, 10, 20, 40, 80):
        rows = []
        for (kind, shop), known in zip(held, past, strict=True):
            while sum(known.values()) < count:
                cause = shop.case().cause
                known[cause] = known.get(cause, 0) + 1
            rows.append(_with_history(kind, list(shop.cases(10)), known))
        table = np.array(rows)
        print(
            f"{count:9d} {table[:, 0].mean():8.3f} {table[:, 1].mean():6.3f}   "
            f"{with_interval(table[:, 1] - table[:, 0])}   "
            f"{with_interval(100 * table[:, 2], 1)} points"
        )


def _with_history(
    kind: Kind, cases: Sequence[Case], known: Mapping[str, int]
) -> tuple[float, float, float]:
    """Brier score without and with the shop's own cases, and the leader's share less how often
    it was right."""
    without = np.mean([brier(ours(kind, case.facts), case.cause) for case in cases])
    told = [(ours(kind, case.facts, known), case.cause) for case in cases]
    score = np.mean([brier(shares, cause) for shares, cause in told])
    right = np.mean([max(shares, key=shares.__getitem__) == cause for shares, cause in told])
    return float(without), float(score), float(np.mean([max(s.values()) for s, _ in told]) - right)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--shops", type=int, default=20, help="of each kind")
    asked.add_argument("--cases", type=int, default=20, help="of each shop")
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    worlds(options.shops, options.cases, options.seed)
    for world in (AS_DECLARED, HALF):
        reliability(world, options.shops, options.cases, options.seed)
    growing(OTHER_CAUSES, options.shops, options.seed)


if __name__ == "__main__":
    main()
