"""How far apart two settings are: by the middle of all pairs, or by means where much is equal."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from defectlog.charts.chart import TooFewValuesError
from defectlog.charts.slopes import Slope, middle_slope
from defectlog.charts.within import means_within


def middle_cut(values: Sequence[float]) -> float:
    """The number that parts these as evenly as may be: half are up to it, the others above.

    Raises
    ------
    ValueError
        If all are the same.
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    steps = np.flatnonzero(np.diff(ordered) > 0)
    if steps.size == 0:
        raise ValueError("equal numbers have no halves")
    nearest = steps[np.argmin(np.abs(steps + 1 - ordered.size / 2))]
    return float(ordered[nearest])


def shift_between(
    is_second: NDArray[np.bool_],
    y: NDArray[np.float64],
    groups: NDArray[np.int64],
    confidence: float,
    by_means: bool,
) -> Slope | None:
    """From the builds of one setting to those of the second, pairs of one group compared.

    By the middle of all pairs, or by means; None where no group has enough of both.
    """
    if not by_means:
        return middle_slope(
            is_second.astype(np.float64).tolist(),
            y.tolist(),
            strata=groups.tolist(),
            confidence=confidence,
        )
    sides = [
        (y[inside & is_second].tolist(), y[inside & ~is_second].tolist())
        for inside in (groups == group for group in np.unique(groups))
    ]
    try:
        means = means_within(sides, confidence=confidence)
    except TooFewValuesError:
        return None
    return Slope(means.difference, means.low, means.high, y.size, confidence)
