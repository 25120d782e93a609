"""Sound or void: whether a surface holds voids at all, and from what contrast on."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Void-free surfaces reach about 1.5 (3.3 on the bright side with glints and scratches),
# voids of a tenth less light 3.6 and more; measured on rendered surfaces.
KINK_LIMIT = 3.5
SMALLEST_SHARE = 0.0003
LARGEST_SHARE = 0.3
STEP = 0.1  # width of the histogram's bins, in robust deviations
FURTHEST = 80.0


@dataclass(frozen=True, slots=True)
class Tail:
    """One side of the surface's distribution of light.

    ``kink`` says how far the tail is from falling off as one population does; ``at`` is
    where (in log units from the middle), ``threshold`` from where on a pixel is a void,
    ``careful`` the same by the noise of the surface alone, ``lone`` so far out that even
    a single void stands out from anything else on the surface.
    """

    kink: float
    at: float
    threshold: float
    careful: float
    lone: float

    @property
    def has_voids(self) -> bool:
        """Whether there is a second population in the tail."""
        return self.kink >= KINK_LIMIT


def tail(excess: NDArray[np.float32], *, least_sd: float) -> Tail:
    """Judge the tail of voids of a surface.

    Parameters
    ----------
    excess : (n,) log contrast of a sample of the surface, positive towards voids
    least_sd : smallest deviation to believe (the grey steps of the picture)

    Returns
    -------
    Tail

    Notes
    -----
    With M(z) pixels beyond z deviations, density h(z) and s(z) the steepness of -log h
    just before z, M s / h is 1 for an exponential tail and stays near 1 for a normal one.
    A population beyond the surface's own tail makes M large where h is still small.
    The deviation behind ``careful`` is taken from the side away from the voids, which
    they cannot widen.
    """
    middle = float(np.median(excess))
    away = middle - excess[excess <= middle]
    sd = max(1.4826 * float(np.median(np.abs(excess - middle))), least_sd)
    sd_away = max(1.4826 * float(np.median(away)), least_sd)
    kink, z = _kink((excess - middle) / sd)
    at = z * sd
    careful = max(5 * sd_away, 1.1 * float(np.quantile(away, 1 - 0.0005)))
    beyond = excess[excess > middle + at] - middle
    typical = 0.4 * float(np.quantile(beyond, 0.7)) if len(beyond) else math.inf
    furthest = float(np.quantile(away, 1 - 1e-5))
    lone = max(8 * sd, 8 * sd_away, 1.5 * careful, 1.5 * furthest)
    threshold = max(at, min(careful, typical))
    return Tail(kink, middle + at, middle + threshold, middle + careful, middle + lone)


def _kink(z: NDArray[np.float32]) -> tuple[float, float]:
    """The largest M s / h over the tail, and where it is."""
    n = len(z)
    bins = np.floor(np.clip(z, 0, FURTHEST) / STEP).astype(np.int64)
    counts = np.bincount(bins[z > 0], minlength=int(FURTHEST / STEP) + 1).astype(np.float64)
    beyond = counts[::-1].cumsum()[::-1]
    # Density over half a deviation, with a few counts added: an empty bin proves nothing.
    width = 5
    density = (np.convolve(counts, np.ones(width), mode="same") + 3) / (width * STEP)
    back = 8
    steep = np.zeros_like(density)
    steep[back:] = (np.log(density[:-back]) - np.log(density[back:])) / (back * STEP)
    statistic = beyond * steep / density
    allowed = (beyond >= SMALLEST_SHARE * n) & (beyond <= LARGEST_SHARE * n)
    if not allowed.any():
        return 0.0, FURTHEST
    statistic = np.where(allowed, statistic, 0.0)
    best = int(statistic.argmax())
    return float(statistic[best]), best * STEP
