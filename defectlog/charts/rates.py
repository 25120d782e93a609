"""Counts per area inspected, where the area differs from build to build: the u and u' charts."""

import math
from collections.abc import Collection, Iterable
from dataclasses import replace

from scipy.stats import nbinom, poisson

from defectlog.charts.chart import (
    ControlChart,
    TooFewValuesError,
    at,
    clean_baseline,
    clean_counts,
    clean_sizes,
    limit_signals,
    one_or_each,
)
from defectlog.charts.counts import small_count_note
from defectlog.charts.dispersion import excess_spread

# What lies beyond 3 sigma on one side of the bell curve.
_TAIL = 0.00135


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


def probable_rates(
    counts: Iterable[float | None],
    sizes: float | Iterable[float],
    *,
    baseline: Collection[int] | None = None,
) -> ControlChart:
    """Chart counts per size with limits that hold for few and clustered counts too.

    Parameters
    ----------
    counts, sizes, baseline :
        As for ``rates``.

    Returns
    -------
    ControlChart
        Centre, values and sigma are those of ``rates``, its room never less than chance needs.
        Beyond each limit lies 0.00135 of the counts or less, as beyond 3 sigma on the bell curve.

    Raises
    ------
    ChartInputError, TooFewValuesError
        As for ``rates``.

    Notes
    -----
    Probability limits of the negative binomial distribution, of the Poisson one where the builds
    differ no more than chance has them: D. Hoffman, Negative binomial control limits for count
    data with extra-Poisson variation, Pharmaceutical Statistics 2, 2003. Excess as Laney takes it
    for u'. Limits of 3 sigma cry wolf on counts of a few, which lie lopsided.
    """
    counts = clean_counts(counts)
    areas = clean_sizes(sizes, len(counts))
    wide = rates(counts, areas, baseline=baseline)
    plain = rates(counts, areas, baseline=baseline, overdispersed=False)
    chart = wide if at(wide.sigma, 0) > at(plain.sigma, 0) else plain
    if chart.centre == 0:
        return replace(chart, notes=())
    excess = (at(chart.sigma, 0) / at(plain.sigma, 0)) ** 2
    ends = [_probable(chart.centre * area, excess) for area in areas]
    lower = one_or_each([low / area for (low, _), area in zip(ends, areas, strict=True)])
    upper = one_or_each([high / area for (_, high), area in zip(ends, areas, strict=True)])
    signals = limit_signals(chart.values, lower, upper)
    return replace(chart, lower=lower, upper=upper, signals=signals, notes=())


def _probable(mean: float, excess: float) -> tuple[float, float]:
    """The smallest and the largest count that is still to be expected."""
    of = poisson(mean) if excess <= 1 + 1e-9 else nbinom(mean / (excess - 1), 1 / excess)
    return float(of.ppf(_TAIL)), float(of.isf(_TAIL))
