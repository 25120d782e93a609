"""How much more counts differ from build to build than chance alone would have them."""

import math
from collections.abc import Sequence

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
