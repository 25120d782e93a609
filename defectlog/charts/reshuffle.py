"""Builds dealt out anew many times over: how often chance alone comes out as far."""

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

# At most so many random orders; a dull fact is let go after so many came out as far as it did.
DRAWS = 4_999
ENOUGH = 50
_BLOCK = 1_000
# Sums of the same values in another order differ by rounding; an order that ties must count.
_ROUNDING = 1e-9

Floats = NDArray[np.float64]


def ranks_within(values: Floats, groups: NDArray[np.int64]) -> Floats:
    """Ranks inside each group, as shares of it around 0, ties sharing theirs."""
    scores = np.empty(values.size)
    for group in np.unique(groups):
        inside = groups == group
        scores[inside] = rankdata(values[inside]) / (inside.sum() + 1) - 0.5
    return scores


def reshuffled_p(
    scores: Floats, weights: Floats, groups: NDArray[np.int64], *, random_state: int = 0
) -> tuple[float, int]:
    """How often an order by chance gives as large a sum of squares of ``scores @ weights``.

    Parameters
    ----------
    scores : (n,) array
        The result of each build, reshuffled inside its group.
    weights : (n, k) array
        One column for each thing it is held against.
    groups : (n,) array of int

    Returns
    -------
    (p, orders)
        p is 0–1 and never 0; orders is how many were tried.

    Notes
    -----
    J. Besag and P. Clifford, Biometrika 78, 1991, 301–304: draw until 50 orders came out as far,
    and p is 50 over their number; else (count + 1) / (4 999 + 1). Either is a valid p-value.
    """
    # Sorted by group, an order inside the groups is a stretch shuffled by itself.
    by_group = np.argsort(groups, kind="stable")
    scores, weights = scores[by_group], weights[by_group]
    sizes = np.unique(groups, return_counts=True)[1]
    bounds = np.concatenate([[0], np.cumsum(sizes)])
    generator = np.random.default_rng(random_state)
    observed = float(np.sum((scores @ weights) ** 2))
    least = observed - _ROUNDING * max(1e-300, float(np.sum(np.abs(scores) @ np.abs(weights))) ** 2)
    seen = tried = 0
    block = 200
    while tried < DRAWS:
        number = min(block, DRAWS - tried)
        block = _BLOCK
        orders = np.tile(scores, (number, 1))
        for start, stop in zip(bounds[:-1], bounds[1:], strict=True):
            generator.permuted(orders[:, start:stop], axis=1, out=orders[:, start:stop])
        far = np.cumsum(np.sum((orders @ weights) ** 2, axis=1) >= least)
        if seen + far[-1] >= ENOUGH:
            last = tried + int(np.searchsorted(far, ENOUGH - seen)) + 1
            return ENOUGH / last, last
        seen += int(far[-1])
        tried += number
    return (seen + 1) / (DRAWS + 1), DRAWS
