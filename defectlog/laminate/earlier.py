"""Where the next value will probably lie, going by earlier ones."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scipy.stats import t as student


@dataclass(frozen=True, slots=True)
class Expected:
    """Mean of the earlier values and the interval that holds the next one 95 times in 100."""

    mean: float
    low: float
    high: float
    number: int

    def holds(self, value: float) -> bool:
        """Whether a new value lies within what was to be expected."""
        return self.low <= value <= self.high


def expected_next(earlier: Iterable[float], *, confidence: float = 0.95) -> Expected | None:
    """Prediction interval for one more value; None from fewer than 3 values.

    Parameters
    ----------
    earlier : numbers in one unit, such as masses of the part's earlier builds in g
    confidence : 0–1, optional

    Notes
    -----
    mean ± t(n − 1) · s · √(1 + 1/n): G. J. Hahn, Factors for calculating two-sided
    prediction intervals, J. Am. Stat. Assoc. 64, 1969. It takes the values to vary about a
    steady mean.
    """
    values = [float(value) for value in earlier]
    number = len(values)
    if number < 3:
        return None
    mean = math.fsum(values) / number
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (number - 1))
    reach = float(student.ppf((1 + confidence) / 2, number - 1)) * spread
    reach *= math.sqrt(1 + 1 / number)
    return Expected(mean, mean - reach, mean + reach, number)
