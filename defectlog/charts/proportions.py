"""Shares of a number inspected: the p and p' charts."""

import math
from collections.abc import Collection, Iterable

from defectlog.charts.chart import (
    ChartInputError,
    ControlChart,
    TooFewValuesError,
    clean_baseline,
    clean_counts,
    clean_sizes,
    limit_signals,
    one_or_each,
)
from defectlog.charts.counts import small_count_note
from defectlog.charts.dispersion import excess_spread


def proportions(
    counts: Iterable[float | None],
    sizes: float | Iterable[float],
    *,
    overdispersed: bool = False,
    baseline: Collection[int] | None = None,
) -> ControlChart:
    """Chart how many of so many had it.

    Parameters
    ----------
    counts : n whole numbers from 0, or None
    sizes : n numbers above 0, or one for all
        How many were looked at each time; no count may be above its size.
    overdispersed : bool, optional
        True widens the limits by how much more the shares differ from each other than
        chance alone would have them (Laney's p').
    baseline : indices from 0, optional
        The samples that set centre and limits; all of them if not given.

    Returns
    -------
    ControlChart
        ``values`` are fractions 0–1. Centre p̄ is all counts over all sizes, limits
        p̄ ± 3 · w · √(p̄ (1 − p̄) / size), kept within 0 and 1, with w = 1 for the plain chart.

    Raises
    ------
    ChartInputError
        If a count is negative, not whole or above its size, a size is not above 0, or their
        numbers differ.
    TooFewValuesError
        If there is no count, or no two neighbours to take the excess spread from.

    Notes
    -----
    p chart: NIST/SEMATECH e-Handbook, 6.3.3.2; p': D. B. Laney, Improved control charts for
    attributes, Quality Engineering 14(4), 2002, with the mean moving range of the z-scores.
    """
    taken = clean_counts(counts)
    looked_at = clean_sizes(sizes, len(taken))
    for index, (count, size) in enumerate(zip(taken, looked_at, strict=True)):
        if count is not None and count > size:
            raise ChartInputError(
                f"Sample {index + 1} counts {count:g} of {size:g}",
                "a share needs a count up to the number looked at",
            )
    chosen = clean_baseline(baseline, taken)
    if not chosen:
        raise TooFewValuesError(0, 1, "a mean share")

    values = tuple(
        None if count is None else count / size
        for count, size in zip(taken, looked_at, strict=True)
    )
    total_size = math.fsum(looked_at[index] for index in chosen)
    centre = math.fsum(taken[index] for index in chosen) / total_size
    sigmas = [math.sqrt(centre * (1 - centre) / size) for size in looked_at]
    if overdispersed:
        excess = excess_spread(values, centre, sigmas, chosen)
        sigmas = [sigma * excess for sigma in sigmas]

    lower = one_or_each([max(0.0, centre - 3 * sigma) for sigma in sigmas])
    upper = one_or_each([min(1.0, centre + 3 * sigma) for sigma in sigmas])
    signals = limit_signals(values, lower, upper)
    notes = small_count_note(min(centre, 1 - centre) * total_size / len(chosen))
    return ControlChart(centre, lower, upper, values, signals, one_or_each(sigmas), notes)
