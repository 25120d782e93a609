"""Quantiles of Student's distribution, without waiting for a library of all distributions."""

import math

FURTHEST = 1e4


def student_quantile(freedom: int, *, within: float = 0.95) -> float:
    """The factor t that holds a share of Student's distribution between -t and t.

    Parameters
    ----------
    freedom : degrees of freedom, 1 or more
    within : the share between, 0–1

    Notes
    -----
    The distribution is a finite sum for whole degrees of freedom (Abramowitz and Stegun,
    Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4); t is found by bisection.
    """
    low, high = 0.0, FURTHEST
    while high - low > 1e-12 * high:
        t = (low + high) / 2
        low, high = (t, high) if share_between(t, freedom) < within else (low, t)
    return (low + high) / 2


def share_between(t: float, freedom: int) -> float:
    """The share of Student's distribution between -t and t."""
    if freedom < 1:
        raise ValueError(f"degrees of freedom are 1 or more, not {freedom}")
    angle = math.atan(t / math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = freedom % 2
    term = cosine if odd else 1.0
    total = term if freedom > 1 else 0.0
    for k in range(2 + odd, freedom - 1, 2):
        term *= (k - 1) / k * cosine**2
        total += term
    return (angle + sine * total) * 2 / math.pi if odd else sine * total
