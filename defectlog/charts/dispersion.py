"""How much more counts differ from build to build than chance alone would have them."""

import math
from collections.abc import Iterable, Sequence

from defectlog.charts.chart import TooFewValuesError, Value
from defectlog.charts.individuals import D2_OF_TWO


def excess_spread(
    values: Sequence[Value],
    centre: float,
    sigmas: Sequence[float],
    chosen: Sequence[int],
) -> float:
    """Spread of the z-scores in units of what chance gives: 1 where chance explains all.

    Parameters
    ----------
    values : n rates or shares, or None
    centre, sigmas : same unit
        Centre line, and the sigma that chance alone gives each point.
    chosen : indices of the values that count, in order
        Only neighbours that both count give a moving range.

    Returns
    -------
    float
        Mean absolute step from one z-score to the next, over 1.128. 1 where there is
        nothing to scale, because every sigma is 0.

    Raises
    ------
    TooFewValuesError
        If no two neighbours count.

    Notes
    -----
    D. B. Laney, Quality Engineering 14(4), 531–537, 2002. The moving range and not the
    standard deviation of the scores, so that a lasting shift does not widen the limits.
    """
    within = set(chosen)
    pairs = [(index - 1, index) for index in chosen if index - 1 in within]
    if not pairs:
        raise TooFewValuesError(len(chosen), 2, "limits from neighbouring values")
    if not all(sigmas):
        return 1.0
    scores = {index: (values[index] - centre) / sigmas[index] for index in chosen}
    steps = [abs(scores[after] - scores[before]) for before, after in pairs]
    return math.fsum(steps) / len(steps) / D2_OF_TWO


def excess_variance(groups: Iterable[Sequence[float]]) -> float:
    """How many times as large the variance of counts is as chance alone would have it.

    Parameters
    ----------
    groups : counts made on equal sizes, each group about its own mean
        Groups of one count, or without any, say nothing.

    Returns
    -------
    float
        Pearson's chi-square over its degrees of freedom, at least 1: counts that happen to lie
        closer together than chance has them are no reason to be surer. 1 where nothing is known.

    Notes
    -----
    P. McCullagh and J. A. Nelder, Generalized Linear Models, 2nd ed. 1989, 6.2.3. From few counts
    it is itself unsure, and an interval that rests on it is still a little too narrow.
    """
    square, freedom = 0.0, 0
    for group in groups:
        mean = math.fsum(group) / len(group) if group else 0.0
        if len(group) < 2 or mean == 0:
            continue
        square += math.fsum((count - mean) ** 2 for count in group) / mean
        freedom += len(group) - 1
    return max(1.0, square / freedom) if freedom else 1.0
