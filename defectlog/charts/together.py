"""Facts that moved on the same builds, or with time: whose effects nobody can tell apart."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

# Fewer builds that know both facts say nothing about how they went together.
LEAST_BOTH = 6

Known = float | str | bool | None


def moved_together(first: Sequence[Known], second: Sequence[Known]) -> float | None:
    """How far two facts are one and the same on these builds: 0 not at all, 1 entirely.

    Parameters
    ----------
    first, second : one value a build, None where it is not known
        Numbers are taken by rank, words and yes or no as settings.

    Returns
    -------
    float or None
        The largest canonical correlation: of two numbers Spearman's, of yes and no with yes
        and no phi, of a number with settings the correlation ratio. None where fewer than six
        builds know both, or one of the two is the same on all of them.

    Notes
    -----
    H. Hotelling, Biometrika 28, 1936. Facts with many settings on few builds go together by
    chance alone; that makes it cautious, for it only ever warns.
    """
    both = [
        (one, other)
        for one, other in zip(first, second, strict=True)
        if one is not None and other is not None
    ]
    if len(both) < LEAST_BOTH:
        return None
    bases = [_basis([pair[side] for pair in both]) for side in (0, 1)]
    if any(basis.shape[1] == 0 for basis in bases):
        return None
    largest = float(np.linalg.svd(bases[0].T @ bases[1], compute_uv=False)[0])
    return min(1.0, largest)


def in_turn(order: Sequence[float], is_second: Sequence[bool]) -> float:
    """How far builds of one setting came after those of the other.

    1 if all of them did, −1 if all came before, 0 if they were made in between each other: the
    share of pairs in that order less the share in the other.

    Raises
    ------
    ValueError
        If one of the settings has no build.
    """
    places = np.asarray(order, dtype=np.float64)
    second = np.asarray(is_second, dtype=bool)
    if second.all() or not second.any():
        raise ValueError("both settings need a build")
    return float(np.sign(places[second][:, None] - places[~second][None, :]).mean())


def _basis(values: Sequence[Known]) -> NDArray[np.float64]:
    """Columns at right angles that span what the fact tells apart."""
    if all(isinstance(value, int | float) and not isinstance(value, bool) for value in values):
        columns = rankdata(np.array(values, dtype=np.float64))[:, None]
    else:
        told = list(dict.fromkeys(values))
        columns = np.array([[value == one for one in told[1:]] for value in values], dtype=float)
        columns = columns.reshape(len(values), len(told) - 1)
    columns = columns - columns.mean(axis=0)
    if columns.shape[1] == 0:
        return columns
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return left[:, sizes > 1e-9 * math.sqrt(len(values))]
