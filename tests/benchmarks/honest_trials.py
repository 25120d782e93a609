"""Trials of counts: how often a simulated trial is fooled, and how often it finds what it should.

    python -m tests.benchmarks.honest_trials [--trials 2000]

Pinholes on panels of 2 to 6 dm², as chance has them or clustered. A row is a trial of the size that
``trial_size`` names for a rise by the difference (80 % power, 5 % false alarms): the share of such
trials that show a difference there is none of, the share that show the one there is, and how often
the interval holds it (nominal 95 %). Then how often it does with few panels, whatever the size
asked for.
"""

import argparse

import numpy as np

from defectlog.charts.plan import rate_spread, trial_size
from defectlog.charts.rate_gap import Counted, RateGap, rate_gap

SEED = 8
SIZE_DM2 = (2.0, 6.0)
# Rate per dm², the difference looked for, and the variance over that of chance.
SHOPS = (
    (2.0, 1.0, 1.0),
    (2.0, 2.0, 1.0),
    (2.0, 2.0, 2.5),
    (5.0, 3.0, 2.5),
    (5.0, 8.0, 10.0),
    (0.3, 0.6, 1.0),
)
FEW = (2, 3, 5)
EXCESSES = (1.0, 1.6, 2.5, 4.0, 10.0)


def panels(random: np.random.Generator, number: int, rate: float, excess: float) -> Counted:
    """Counts of panels made alike, gamma-mixed to so many times the variance of chance."""
    sizes = random.uniform(*SIZE_DM2, number)
    means = rate * sizes
    if excess > 1:
        means = random.gamma(means / (excess - 1), excess - 1)
    return Counted(random.poisson(means).tolist(), sizes.tolist())


def shows(gap: RateGap) -> bool:
    return gap.low > 0 or gap.high < 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=2000)
    number = parser.parse_args().trials
    random = np.random.default_rng(SEED)
    print("rate  difference  excess  panels of each  false alarms  found  fall found  held")
    for rate, difference, excess in SHOPS:
        spread = rate_spread(rate, difference, size=sum(SIZE_DM2) / 2, excess=excess)
        each = trial_size(difference, spread).per_setting
        more = rate + difference
        same, risen, fallen = (
            [
                rate_gap(panels(random, each, a, excess), panels(random, each, b, excess))
                for _ in range(number)
            ]
            for a, b in ((rate, rate), (more, rate), (max(0.0, rate - difference), rate))
        )
        fell = f"{np.mean([*map(shows, fallen)]):10.0%}" if difference <= rate else "         –"
        print(
            f"{rate:4}  {difference:10}  {excess:6}  {each:14}  "
            f"{np.mean([*map(shows, same)]):12.1%}  {np.mean([*map(shows, risen)]):5.0%}  {fell}  "
            f"{np.mean([gap.low <= difference <= gap.high for gap in risen]):.1%}"
        )
    print("held, rates 4 and 2; panels of each, by excess", *EXCESSES)
    for each in FEW:
        held = []
        for excess in EXCESSES:
            gaps = (
                rate_gap(panels(random, each, 4.0, excess), panels(random, each, 2.0, excess))
                for _ in range(number)
            )
            held.append(np.mean([gap.low <= 2.0 <= gap.high for gap in gaps]))
        print(f"{each:4}  ", "  ".join(f"{share:.1%}" for share in held))


if __name__ == "__main__":
    main()
