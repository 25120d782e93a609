"""Counts on builds that are all alike: the c chart."""

import math
from collections.abc import Collection, Iterable

from defectlog.charts.chart import (
    ControlChart,
    TooFewValuesError,
    clean_baseline,
    clean_counts,
    limit_signals,
)

# Below it a count is too lopsided for limits of ± 3 sigma: NIST/SEMATECH e-Handbook, 6.3.3.1.
LEAST_MEAN_COUNT = 5


def counts(
    counts: Iterable[float | None], *, baseline: Collection[int] | None = None
) -> ControlChart:
    """Chart how many there were on each of several alike builds.

    Parameters
    ----------
    counts : n whole numbers from 0, or None
    baseline : indices from 0, optional
        The counts that set centre and limits; all of them if not given.

    Returns
    -------
    ControlChart
        Centre is the mean count, limits are mean ± 3 √mean, not below 0. ``notes`` warn when
        the mean is below 5.

    Raises
    ------
    ChartInputError
        If a count is negative or not whole.
    TooFewValuesError
        If there is no count.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1. It takes the counts to be
    Poisson; where voids cluster they vary more, and ``rates`` has limits for that.
    """
    taken = clean_counts(counts)
    chosen = clean_baseline(baseline, taken)
    if not chosen:
        raise TooFewValuesError(0, 1, "a mean count")
    centre = math.fsum(taken[index] for index in chosen) / len(chosen)
    sigma = math.sqrt(centre)
    lower, upper = max(0.0, centre - 3 * sigma), centre + 3 * sigma
    notes = small_count_note(centre)
    return ControlChart(
        centre, lower, upper, taken, limit_signals(taken, lower, upper), sigma, notes
    )


def small_count_note(expected: float) -> tuple[str, ...]:
    """What to tell when so few are expected that the limits are only rough."""
    if expected >= LEAST_MEAN_COUNT:
        return ()
    return (
        f"Fewer than {LEAST_MEAN_COUNT} are expected on a build, so these limits are rough: "
        "there is no useful lower one, and the upper one is crossed by chance more often "
        "than usual.",
    )
