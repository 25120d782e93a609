"""Counts per area inspected, where the area differs from build to build: the u and u' charts."""

import math
from collections.abc import Collection, Iterable

from defectlog.charts.chart import (
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


def rates(
    counts: Iterable[float | None],
    sizes: float | Iterable[float],
    *,
    overdispersed: bool = True,
    baseline: Collection[int] | None = None,
) -> ControlChart:
    """Chart counts per size, such as pinholes per cm² inspected.

    Parameters
    ----------
    counts : n whole numbers from 0, or None
    sizes : n numbers above 0, or one for all
        What each count was made on. Fractions of a unit are taken as they are.
    overdispersed : bool, optional
        True, the default, widens the limits by how much more the builds differ from each
        other than chance alone would have them (Laney's u'): pinholes cluster. False gives
        the plain u chart.
    baseline : indices from 0, optional
        The builds that set centre and limits; all of them if not given.

    Returns
    -------
    ControlChart
        ``values`` are counts over sizes. Centre ū is all counts over all sizes, limits
        ū ± 3 · w · √(ū / size), not below 0, with w = 1 for the plain chart.

    Raises
    ------
    ChartInputError
        If a count is negative or not whole, a size is not above 0, or their numbers differ.
    TooFewValuesError
        If there is no count, or no two neighbours to take the excess spread from.

    Notes
    -----
    u chart: NIST/SEMATECH e-Handbook, 6.3.3.1; u': D. B. Laney, Improved control charts for
    attributes, Quality Engineering 14(4), 2002. The excess spread is the mean moving range
    of the z-scores over 1.128. As published it may also come out below 1 and narrow the
    limits.
    """
    taken = clean_counts(counts)
    areas = clean_sizes(sizes, len(taken))
    chosen = clean_baseline(baseline, taken)
    if not chosen:
        raise TooFewValuesError(0, 1, "a mean rate")

    values = tuple(
        None if count is None else count / area for count, area in zip(taken, areas, strict=True)
    )
    total_size = math.fsum(areas[index] for index in chosen)
    centre = math.fsum(taken[index] for index in chosen) / total_size
    sigmas = [math.sqrt(centre / area) for area in areas]
    if overdispersed:
        excess = excess_spread(values, centre, sigmas, chosen)
        sigmas = [sigma * excess for sigma in sigmas]

    lower = one_or_each([max(0.0, centre - 3 * sigma) for sigma in sigmas])
    upper = one_or_each([centre + 3 * sigma for sigma in sigmas])
    signals = limit_signals(values, lower, upper)
    notes = small_count_note(centre * total_size / len(chosen))
    return ControlChart(centre, lower, upper, values, signals, one_or_each(sigmas), notes)
