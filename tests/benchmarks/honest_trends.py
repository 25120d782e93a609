"""How honest the trends are: simulated shops in which nothing changes, and in which something does.

    python -m tests.benchmarks.honest_trends [--shops 2000] [--seed 1]

Every shop makes 20 builds that set the limits, as the trends take them, and 100 more. Printed:

1. Nothing changes: alarms per 100 later builds, on the charts the trends use and, beside them, on
   those they do not. A chart with 3-sigma limits that are *known* gives 0.27; limits that rest on
   20 builds give more, because 20 builds do not know the spread well, and that is printed too.
2. Something changes after build 20: in how many shops it is found within 5, 10 and 20 builds, and
   after how many builds in half of those that find it within 100.
3. Intervals of 95 %: how often they hold the truth, for small samples. Between 93 and 97 is honest.

Voids scatter on logarithms (a spread of 0.35, one build is rarely off by half), masses by the bell
curve, pinholes as clustered counts: builds differ threefold in variance from what chance alone
would have. No share is told without its own 95 % interval (Wilson).
"""

import argparse
import math
import statistics
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from defectlog.charts import (
    ControlChart,
    choose_turn,
    compare,
    ewma_turned,
    individuals,
    individuals_turned,
    mean_interval_of,
    poisson_limits,
    probable_rates,
    rate_ratio,
    rates,
    run_signals,
    wilson,
)
from defectlog.charts.dispersion import excess_variance

BASELINE, LATER = 20, 100
VOIDS, SPREAD = 0.02, 0.35
CLUSTER = 3.0  # variance of a count over its mean
Rng = np.random.Generator
Shop = tuple[list[float], list[float]]
Chart = Callable[[Shop], list[int]]


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many, with its interval."""

    count: int
    number: int

    @property
    def pct(self) -> float:
        return 100 * self.count / self.number

    def __str__(self) -> str:
        low, high = wilson(self.count, self.number) or (0.0, 1.0)
        return f"{self.pct:5.2f} ({100 * low:.2f} to {100 * high:.2f})"


# -- shops: (values or counts, areas) of BASELINE + LATER builds; `moved` is the change in sigmas
# for values, in how many times as many for counts


def masses(rng: Rng, moved: float = 0.0) -> Shop:
    values = rng.normal(2400, 40, BASELINE + LATER)
    values[BASELINE:] += 40 * moved
    return values.tolist(), []


def voids(rng: Rng, moved: float = 0.0) -> Shop:
    values = rng.normal(math.log(VOIDS), SPREAD, BASELINE + LATER)
    values[BASELINE:] += SPREAD * moved
    return np.exp(values).tolist(), []


def pinholes(rng: Rng, moved: float = 1.0, *, cluster: float = CLUSTER, each: float = 0.3) -> Shop:
    """Counts on areas of 20 to 80 cm²; ``cluster`` 1 is chance alone."""
    areas = rng.uniform(20, 80, BASELINE + LATER)
    means = each * areas
    means[BASELINE:] *= moved
    if cluster == 1:
        counts = rng.poisson(means)
    else:
        shape = means / (cluster - 1)
        counts = rng.poisson(rng.gamma(shape, cluster - 1))
    return [float(count) for count in counts], areas.tolist()


# -- charts: indices of the builds that a chart says to look at


def _outside(chart: ControlChart, rules: bool = True) -> list[int]:
    return [s.index for s in chart.signals if rules or s.rule == "limit"]


def plain(shop: Shop) -> list[int]:
    return _outside(individuals(shop[0], lowest=0.0, baseline=range(BASELINE)))


def _turned(shop: Shop, run_rules: bool = False) -> tuple[ControlChart, object]:
    turn = choose_turn([shop[0][:BASELINE]], shop[0])
    made = individuals_turned(shop[0], turn, baseline=range(BASELINE), run_rules=run_rules)
    return made, turn


def turned(shop: Shop) -> list[int]:
    return _outside(_turned(shop)[0])


def with_runs(shop: Shop) -> list[int]:
    return _outside(_turned(shop, run_rules=True)[0])


def average(shop: Shop) -> list[int]:
    made, turn = _turned(shop)
    chart = ewma_turned(shop[0], turn, made, target_of=BASELINE)
    return _outside(chart) if chart else []


def average_of_a_known_centre(shop: Shop) -> list[int]:
    made, turn = _turned(shop)
    chart = ewma_turned(shop[0], turn, made)
    return _outside(chart) if chart else []


def clustered(shop: Shop) -> list[int]:
    return _outside(probable_rates(*shop, baseline=range(BASELINE)))


def clustered_with_runs(shop: Shop) -> list[int]:
    chart = probable_rates(*shop, baseline=range(BASELINE))
    runs = run_signals(chart.values, chart.centre, chart.sigma)
    return sorted({*_outside(chart), *(signal.index for signal in runs)})


def by_three_sigma(shop: Shop) -> list[int]:
    return _outside(rates(*shop, baseline=range(BASELINE)))


def poisson_only(shop: Shop) -> list[int]:
    return _outside(rates(*shop, overdispersed=False, baseline=range(BASELINE)))


def alarms(make: Callable[[Rng], Shop], chart: Chart, shops: int, rng: Rng) -> Share:
    """Alarms over all shops although nothing changed; builds in a row are one alarm."""
    count = 0
    for _ in range(shops):
        named = {index for index in chart(make(rng)) if index >= BASELINE}
        count += sum(index - 1 not in named for index in named)
    return Share(count, shops * LATER)


def delays(make: Callable[[Rng], Shop], chart: Chart, shops: int, rng: Rng) -> list[int | None]:
    """After how many builds with the change the chart first names one; None where it never does."""
    found = []
    for _ in range(shops):
        after = [index - BASELINE + 1 for index in chart(make(rng)) if index >= BASELINE]
        found.append(min(after, default=None))
    return found


# -- intervals: (low, high) and the truth, over and over


def _welch(rng: Rng, numbers: tuple[int, int], skewed: bool) -> tuple[float, float, float]:
    if skewed:  # a drop from 2.0 to 0.6 %, each scattering on logarithms
        a, b = (
            rng.lognormal(math.log(m), SPREAD, n) for m, n in zip((2.0, 0.6), numbers, strict=True)
        )
        truth = (2.0 - 0.6) * math.exp(SPREAD**2 / 2)
    else:
        a, b = (rng.normal(m, s, n) for m, s, n in zip((10, 8), (1.0, 2.0), numbers, strict=True))
        truth = 2.0
    found = compare(a.tolist(), b.tolist())
    return found.low, found.high, truth


def _mean(rng: Rng, number: int, skewed: bool) -> tuple[float, float, float]:
    taken = rng.lognormal(0, SPREAD, number) if skewed else rng.normal(0, 1, number)
    low, high = mean_interval_of(taken.tolist()) or (0.0, 0.0)
    return low, high, math.exp(SPREAD**2 / 2) if skewed else 0.0


def _share(rng: Rng, number: int, share: float) -> tuple[float, float, float]:
    low, high = wilson(int(rng.binomial(number, share)), number) or (0.0, 1.0)
    return low, high, share


def _count(rng: Rng, mean: float) -> tuple[float, float, float]:
    return *poisson_limits(int(rng.poisson(mean))), mean


def _lesson(
    rng: Rng,
    builds: tuple[int, int],
    each: tuple[float, float],
    cluster: float,
    allows: bool = True,
) -> tuple[float, float, float]:
    """Findings a build before a lesson and with it, as its effect is worked out."""
    counts = []
    for number, mean in zip(builds, each, strict=True):
        own = np.full(number, mean)
        if cluster > 1:
            own = rng.gamma(mean / (cluster - 1), cluster - 1, number)
        counts.append(rng.poisson(own).tolist())
    before, applied = map(sum, counts)
    excess = excess_variance(counts) if allows else 1.0
    found = rate_ratio(
        applied, builds[1], before, builds[0], excess=excess, freedom=sum(builds) - 2, mid=True
    )
    return found.low, found.high, each[1] / each[0]


def held(draw: Callable[[Rng], tuple[float, float, float]], shops: int, rng: Rng) -> Share:
    """How often an interval holds the truth."""
    count = 0
    for _ in range(shops):
        low, high, truth = draw(rng)
        count += low <= truth <= high
    return Share(count, shops)


INTERVALS: dict[str, Callable[[Rng], tuple[float, float, float]]] = {
    "difference of two means, 4 and 4": lambda r: _welch(r, (4, 4), False),
    "the same, 5 and 8": lambda r: _welch(r, (5, 8), False),
    "the same, skewed voids, 4 and 4": lambda r: _welch(r, (4, 4), True),
    "the same, skewed voids, 6 and 6": lambda r: _welch(r, (6, 6), True),
    "the same, skewed voids, 5 and 8": lambda r: _welch(r, (5, 8), True),
    "mean of 5": lambda r: _mean(r, 5, False),
    "mean of 5 skewed voids": lambda r: _mean(r, 5, True),
    "mean of 12 skewed voids": lambda r: _mean(r, 12, True),
    "share of 10, any from 5 to 95 % (Wilson)": lambda r: _share(r, 10, r.uniform(0.05, 0.95)),
    "share of 25, any from 5 to 95 % (Wilson)": lambda r: _share(r, 25, r.uniform(0.05, 0.95)),
    "count, mean 4 (exact)": lambda r: _count(r, 4.0),
    "count, mean 20 (exact)": lambda r: _count(r, 20.0),
    "lesson, 10 and 10 builds, 1 to 0.5 each": lambda r: _lesson(r, (10, 10), (1.0, 0.5), 1),
    "lesson, 12 and 6 builds, 2 to 2 each": lambda r: _lesson(r, (12, 6), (2.0, 2.0), 1),
    "lesson, clustered twofold": lambda r: _lesson(r, (12, 6), (2.0, 2.0), 2.0),
    "lesson, clustered threefold": lambda r: _lesson(r, (12, 6), (2.0, 2.0), CLUSTER),
    "the same, taken for chance (not used)": lambda r: _lesson(
        r, (12, 6), (2.0, 2.0), CLUSTER, False
    ),
}

UNCHANGED: dict[str, tuple[Callable[[Rng], Shop], Chart]] = {
    "mass: single values": (masses, plain),
    "voids: single values, scale chosen": (voids, turned),
    "voids: the same with run rules": (voids, with_runs),
    "voids: moving average": (voids, average),
    "voids: moving average, centre taken as known (not used)": (voids, average_of_a_known_centre),
    "voids: single values as they are (not used)": (voids, plain),
    "pinholes: clustered rates": (pinholes, clustered),
    "pinholes: the same with run rules": (pinholes, clustered_with_runs),
    "pinholes: plain Poisson chart (not used)": (pinholes, poisson_only),
    "chance alone: clustered rates": (lambda r: pinholes(r, cluster=1), clustered),
    "few, 3 a build: clustered rates": (lambda r: pinholes(r, each=0.06), clustered),
    "the same, limits of 3 sigma (not used)": (lambda r: pinholes(r, each=0.06), by_three_sigma),
}

CHANGED: dict[str, tuple[Callable[[Rng], Shop], Chart]] = {
    "voids half as high again: single values": (lambda r: voids(r, math.log(1.5) / SPREAD), turned),
    "the same: moving average": (lambda r: voids(r, math.log(1.5) / SPREAD), average),
    "voids twice as high: single values": (lambda r: voids(r, math.log(2) / SPREAD), turned),
    "the same, twice: moving average": (lambda r: voids(r, math.log(2) / SPREAD), average),
    "voids a third of before: single values": (lambda r: voids(r, -math.log(3) / SPREAD), turned),
    "pinholes twice as many: clustered rates": (lambda r: pinholes(r, 2.0), clustered),
    "mass up by one sigma: single values": (lambda r: masses(r, 1.0), turned),
    "mass up by one sigma: moving average": (lambda r: masses(r, 1.0), average),
}


def known_rate_with(baseline: int, shops: int, rng: Rng) -> Share:
    """What limits of so few normal values give by themselves, worked out without our charts."""
    values = rng.normal(size=(shops, baseline))
    sigma = np.abs(np.diff(values)).mean(axis=1) / (2 / math.sqrt(math.pi))
    centre = values.mean(axis=1)
    later = rng.normal(size=(shops, LATER))
    outside = np.abs(later - centre[:, None]) > 3 * sigma[:, None]
    return Share(int(outside.sum()), outside.size)


def _rows(shops: int, rng: Rng) -> Iterator[str]:
    yield "Nothing changes: alarms per 100 builds, known limits 0.27"
    yield f"  {'limits from 20 values, worked out aside':56} {known_rate_with(20, 20_000, rng)}"
    for name, (make, chart) in UNCHANGED.items():
        yield f"  {name:56} {alarms(make, chart, shops, rng)}"
    yield "Something changes: % of shops that find it within 5, 10, 20 builds; half find it by"
    for name, (make, chart) in CHANGED.items():
        found = delays(make, chart, max(100, shops // 4), rng)
        within = [
            round(100 * statistics.fmean(d is not None and d <= most for d in found))
            for most in (5, 10, 20)
        ]
        known: Sequence[int] = [delay for delay in found if delay is not None]
        half = statistics.median(known) if known else math.nan
        yield f"  {name:56} {within[0]:3} {within[1]:3} {within[2]:3}   {half:.0f}"
    yield "Intervals of 95 %: how often they hold the truth"
    for name, draw in INTERVALS.items():
        yield f"  {name:56} {held(draw, 2 * shops, rng)}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for row in _rows(asked.shops, np.random.default_rng(asked.seed)):
        print(row, flush=True)


if __name__ == "__main__":
    main()
