"""Constants and rates that charts rest on, against their definitions and printed values."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from defectlog.charts import Turn, mean_interval_of, run_signals
from defectlog.charts.chart import limit_signals
from defectlog.charts.individuals import D2_OF_TWO, D4_OF_TWO
from defectlog.charts.plan import pooled_spread


def moments_of_the_range_of_two() -> tuple[float, float]:
    """Mean and standard deviation of the range of two normal values, by integration."""

    def density(step: float) -> float:  # of |x - y|, x - y being normal with variance 2
        return 2 * float(norm.pdf(step, scale=math.sqrt(2)))

    mean = quad(lambda step: step * density(step), 0, math.inf)[0]
    square = quad(lambda step: step**2 * density(step), 0, math.inf)[0]
    return mean, math.sqrt(square - mean**2)


def test_d2_and_d4_are_those_of_the_range_of_two_rounded_as_printed() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.1 and 6.3.2.2 print d2 = 1.128 and D4 = 3.267 for two; D4 is
    # 1 + 3 d3/d2, whose last digit differs between tables.
    d2, d3 = moments_of_the_range_of_two()

    assert d2 == pytest.approx(2 / math.sqrt(math.pi))
    assert pytest.approx(d2, abs=5e-4) == D2_OF_TWO
    assert pytest.approx(1 + 3 * d3 / d2, abs=1e-3) == D4_OF_TWO


def test_three_sigma_names_one_sound_point_in_370() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2 has 371 points to a false alarm, exactly 370.4.
    assert 1 / (2 * norm.sf(3)) == pytest.approx(370.4, abs=0.05)
    values = np.random.default_rng(3).normal(size=200_000).tolist()

    # 540 are expected and their own scatter is 23: three of them either way.
    assert abs(len(limit_signals(values, -3.0, 3.0)) - 200_000 / 370.4) < 70


def test_all_four_rules_together_name_a_sound_point_about_every_92() -> None:
    # 91.75 points to the first alarm: Champ and Woodall, Technometrics 29(4), 1987, as cited by
    # the NIST/SEMATECH e-Handbook, 6.3.2.
    generator = np.random.default_rng(4)
    first = []
    for _ in range(250):
        values = generator.normal(size=700).tolist()
        named = [*limit_signals(values, -3.0, 3.0), *run_signals(values, 0.0, 1.0)]
        first.append(1 + min(signal.index for signal in named))

    # Run lengths scatter about as far as they are long: three standard errors of 250 of them.
    assert np.mean(first) == pytest.approx(91.75, abs=3 * 91.75 / math.sqrt(250))


@pytest.mark.parametrize(
    ("values", "mean", "spread"),
    [
        # NIST Statistical Reference Datasets, univariate, NumAcc1 and NumAcc2: certified exactly.
        ([10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0),
        ([1.2, *[1.1, 1.3] * 500], 1.2, 0.1),
    ],
)
def test_means_and_spreads_lose_no_digits(values: list[float], mean: float, spread: float) -> None:
    interval = mean_interval_of(values, turn=Turn.NONE)

    assert interval is not None
    assert (interval.low + interval.high) / 2 == pytest.approx(mean, rel=1e-14)
    assert pooled_spread([values]).value == pytest.approx(spread, rel=1e-12)
