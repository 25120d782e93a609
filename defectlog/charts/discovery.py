"""Many questions asked of the same builds: how many of the answers may be chance."""

from collections.abc import Iterable, Sequence

import numpy as np

from defectlog.charts.chart import ChartInputError


def false_discovery(p_values: Iterable[float]) -> tuple[float, ...]:
    """The q-value of each p-value: the false discovery rate of the list that just includes it.

    Parameters
    ----------
    p_values : numbers 0–1, any order, one for each question asked
        Those that came out dull count too; leaving them out would undo the correction.

    Returns
    -------
    tuple of float
        In the order given, never below the p-value. Of all whose q is at most 0.1, no more
        than a tenth are chance, on average over many such lists.

    Raises
    ------
    ChartInputError
        If a number is not 0–1.

    Notes
    -----
    Step-up procedure of Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57, 1995, 289–300. It
    holds for questions independent of each other or pointing the same way (Y. Benjamini and
    D. Yekutieli, Ann. Stat. 29, 2001), as facts that move together do.
    """
    p = np.array(list(p_values), dtype=np.float64)
    if p.size == 0:
        return ()
    if not np.all((p >= 0) & (p <= 1)):
        raise ChartInputError("A p-value is not between 0 and 1", "give shares of chance, 0 to 1")
    order = np.argsort(p)
    stepped = p[order] * p.size / np.arange(1, p.size + 1)
    # From the largest down: a smaller p is never judged more harshly than a larger one.
    stepped = np.minimum.accumulate(stepped[::-1])[::-1]
    q = np.empty_like(p)
    q[order] = np.minimum(stepped, 1.0)
    return tuple(float(value) for value in q)


def can_be_found(least_p: Sequence[float], *, rate: float) -> tuple[bool, ...]:
    """Which questions could pass the correction at all, by the smallest p each can give.

    Parameters
    ----------
    least_p : numbers 0–1
        With few builds there are few ways to deal them out, and the p-value cannot go below
        some share whatever they show.
    rate : 0–1
        The false discovery rate that is to be kept.

    Returns
    -------
    tuple of bool
        True where ``least_p`` is at most ``rate / k``, k being the smallest number for which no
        more than k questions are left. Only those are asked and count in the correction.

    Notes
    -----
    R. E. Tarone, Biometrics 46, 1990, 515–522; for false discoveries P. B. Gilbert, J. R. Stat.
    Soc. C 54, 2005. It may look only at what could come out, never at what did.
    """
    size = next(
        (k for k in range(1, len(least_p) + 1) if sum(p <= rate / k for p in least_p) <= k), 1
    )
    return tuple(least <= rate / size for least in least_p)
