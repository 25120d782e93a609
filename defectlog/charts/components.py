"""How much of the scatter of figures is what each of them is unsure by: variance components."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.stats import chi2

from defectlog.charts.chart import TooFewValuesError


@dataclass(frozen=True, slots=True)
class WithinShare:
    """Share of the variance of figures that their own errors make up, with its 95 % interval.

    1 is all of it; by chance the estimate and its ends may lie above, for figures without scatter
    at infinity. ``between`` is the variance
    that is left for what the figures are of, 0 at least; ``freedom`` are the degrees of freedom.
    """

    value: float
    low: float
    high: float
    between: float
    freedom: int


def within_share(
    groups: Sequence[Sequence[float]], errors: Sequence[Sequence[float]]
) -> WithinShare:
    """Tell what each figure is unsure by from what the things they stand for differ by.

    Parameters
    ----------
    groups : figures of things made alike, group by group; the groups may lie anywhere
    errors : the standard error of each figure, in the same order

    Returns
    -------
    WithinShare

    Raises
    ------
    TooFewValuesError
        If no group holds two figures.

    Notes
    -----
    The one-way random model, by moments: the variance of figures inside their groups estimates
    that of the things plus the mean squared standard error (Searle, Casella and McCulloch,
    Variance Components, 1992, ch. 3; with errors that differ, Hedges and Olkin, Statistical
    Methods for Meta-Analysis, 1985, ch. 9). The interval is that of the variance, by chi-square;
    the standard errors are taken as known. Figures that are not normal widen it in truth.
    """
    if [len(group) for group in groups] != [len(own) for own in errors]:
        raise ValueError("there is not one error to each figure")
    used = [(group, own) for group, own in zip(groups, errors, strict=True) if len(group) > 1]
    freedom = sum(len(group) - 1 for group, _ in used)
    if freedom == 0:
        raise TooFewValuesError(1, 2, "a scatter")
    squares, within = 0.0, 0.0
    for group, own in used:
        mean = math.fsum(group) / len(group)
        squares += math.fsum((value - mean) ** 2 for value in group)
        # Each group has a say in proportion to its degrees of freedom, as in the variance.
        within += (len(group) - 1) * math.fsum(error**2 for error in own) / len(own)
    low, high = (float(chi2.ppf(tail, freedom)) / freedom for tail in (0.025, 0.975))
    share = within / squares if squares else math.inf
    between = max(0.0, (squares - within) / freedom)
    return WithinShare(share, share * low, share * high, between, freedom)
