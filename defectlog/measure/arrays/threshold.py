"""Sound or void: whether a surface holds voids at all, and from what contrast on."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Void-free surfaces reach about 2.1 (more with hairs, scratches and folds, which are turned
# down one by one for what they look like), voids of a tenth less light 3.4 and more;
# measured on rendered surfaces.
KINK_LIMIT = 2.6
CLEAR_KINK = 3.5  # and from here on there is no doubt about them
NEARLY = 0.7  # of the kink that is asked for: what reaches it may be voids
# Where light tows and dark ones differ by more than this, in log units of light, the dark side
# holds them and the gaps; black being the end of it, it falls off the faster. Voids among them
# reach 1.8 and more, sound two-tone carbon 1.3.
TWO_TONE, TWO_TONE_LIMIT = 0.3, 1.7
# Where glare bends the light of a cloth, what is left of gaps once the weave is taken out reaches
# 3, voids 9 and more.
GLARED_LIMIT = 6.0
# Of two kinks one is nearly as clear as the other from this share of it on.
AS_CLEAR = 0.6
# Of satin one family of tows shows in a few floats, of which the median knows nothing. Dark ones go
# as far as dark tows do, in log units of light, and so many times as far as the rest of the surface
# does to the other side.
FLOATS, FLOATS_TIMES = 0.33, 2.0
SMALLEST_SHARE = 0.0003
LARGEST_SHARE = 0.3
STEP = 0.1  # width of the histogram's bins, in robust deviations
FURTHEST = 80.0
# What is left of a surface without its weave is noise and edges met only nearly: so many times
# its reach, nothing of it is left that is more than a speck, and a single void stands out. What
# is left goes no further than so far; what glare has bent does, and is turned down for what it
# looks like, or for being alone.
LEFT, LEFT_LONE, MOST_LEFT = 4.5, 7.0, 0.5
MUCH = 0.005  # of a surface, beyond that, is no speck
# However little that is, edges of tows that were met a little astray stand out by so much, in log
# units of light.
ASTRAY = 0.25
# What is left of cloth falls off to a fifth and less within so many log units of light: from where
# all that is left falls no faster than by this, five sixths of it and more are void. Only where so
# much of a surface is: beside fewer voids the rest of cloth, a thousandth of it, weighs too much.
FALL, FLAT, MANY = 0.1, 1.15, 0.02
# By so many places each place of cloth is told, as the second brightest of them.
PLACES = 6
GRAIN = 1 / 4096  # of the counts, in log units of light
FURTHEST_LOG = 7.0


@dataclass(frozen=True, slots=True)
class Tail:
    """One side of the surface's distribution of light.

    ``kink`` says how far the tail is from falling off as one population does; ``at`` is
    where (in log units from the middle), ``threshold`` from where on a pixel is a void,
    ``careful`` the same by the noise of the surface alone, ``lone`` so far out that even
    a single void stands out from anything else on the surface. ``reach`` is how far the
    surface itself goes to the other side, but for a twentieth of it, ``towards`` how far it and its
    voids go to this one and ``swing`` the deviation of all of it, as the median tells it;
    ``limit`` is what ``kink`` has to reach; ``bare`` is whether the weave was taken out of the
    surface before.
    """

    kink: float
    at: float
    threshold: float
    careful: float
    lone: float
    reach: float
    limit: float = KINK_LIMIT
    bare: bool = False
    towards: float = 0.0
    swing: float = 0.0

    @property
    def has_voids(self) -> bool:
        """Whether there is a second population in the tail."""
        return self.kink >= self.limit

    @property
    def may_have_voids(self) -> bool:
        """Whether there nearly is one: voids among pockets as dark, beside others, or few."""
        return self.kink >= NEARLY * self.limit

    @property
    def is_clear(self) -> bool:
        """Whether that population is beyond doubt."""
        return self.kink >= max(CLEAR_KINK, self.limit)

    @property
    def is_two_tone(self) -> bool:
        """Whether the surface goes so far to the other side as light tows among dark ones do."""
        return self.reach > TWO_TONE

    @property
    def may_be_floats(self) -> bool:
        """Whether much goes far to this side alone: dense voids, or the floats of a satin."""
        return self.towards >= max(FLOATS, FLOATS_TIMES * self.reach)


def tail(
    excess: NDArray[np.float32],
    *,
    least_sd: float,
    dark: bool = False,
    bare: bool = False,
    glared: bool = False,
    astray: float = ASTRAY,
    often: NDArray[np.int64] | None = None,
) -> Tail:
    """Judge the tail of voids of a surface.

    Parameters
    ----------
    excess : (n,) log contrast of a sample of the surface, positive towards voids
    least_sd : smallest deviation to believe (the grey steps of the picture)
    dark : whether voids are looked for on the dark side
    bare : whether the weave has been taken out of the surface
    glared : whether so much of it is glare that the light of the rest is bent
    astray : by how much edges of tows stand out at most where these were met a little astray
    often : (n,) how often each value is in the sample; once if None

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
    counts = _counted(excess, often)
    n = int(counts.sum())
    (middle,) = _quantiles(counts, 0.5)
    towards, away = counts[middle:], counts[middle::-1]
    either = np.zeros(max(len(towards), len(away)), counts.dtype)
    either[: len(towards)] = towards
    either[1 : len(away)] += away[1:]
    own_sd = 1.4826 * GRAIN * _quantiles(either, 0.5)[0]
    sd = max(own_sd, least_sd)
    half, reach, nearly_all, furthest = (
        GRAIN * steps for steps in _quantiles(away, 0.5, 0.9, 1 - 0.0005, 1 - 1e-5)
    )
    sd_away = max(1.4826 * half, least_sd)
    left = max(min(LEFT * reach, MOST_LEFT), 5 * least_sd, astray) if bare else 0.0
    kink, z = _kink(counts[middle + 1 :], n, sd, least=left)
    clearest = at = z * sd
    careful = max(5 * sd_away, 1.1 * nearly_all)
    if at > careful and not bare and reach < TWO_TONE:
        # So far out it lies within the voids, which may be of many strengths: they begin at one
        # nearer if that is nearly as clear. What is far less so is a crease or the like, and cloth
        # of two tones begins nearer itself.
        nearer, z = _kink(counts[middle + 1 :], n, sd, least=0.0, most=careful)
        at = z * sd if nearer >= max(KINK_LIMIT, AS_CLEAR * kink) else at
    beyond = counts[middle + 1 + math.ceil(at / GRAIN) :]
    typical = math.inf
    if beyond.any():
        typical = 0.4 * (math.ceil(at / GRAIN) + 1 + _quantiles(beyond, 0.7)[0]) * GRAIN
    lone = max(8 * sd, 8 * sd_away, 1.5 * careful, 1.5 * furthest)
    # A kink further out than the surface's own noise could reach lies within the voids.
    threshold = max(min(at, careful), min(careful, typical))
    if own_sd < 1.6 * least_sd:
        # Without noise of its own, a surface shows the rounding of its values and no more.
        threshold = max(threshold, 5 * least_sd)
    limit = KINK_LIMIT
    if bare and glared:
        limit = GLARED_LIMIT
    elif dark and not bare and clearest > reach > TWO_TONE:
        # Nearer than the light tows lie to the other side, it is the dark tows that begin there.
        limit = TWO_TONE_LIMIT
    if bare and counts[middle + 1 + math.ceil(left / GRAIN) :].sum() > MUCH * n:
        kink = max(kink, limit)  # voids of all strengths have no kink before them
    if bare:
        careful = threshold = left
        lone = LEFT_LONE * (max(reach, left / LEFT) if glared else left / LEFT)
        off = math.ceil(left / GRAIN)
        own, other = (float(one[off:].sum()) / n for one in (counts[middle + 1 :], away))
        if own < _told_as_void(other):
            kink = 0.0  # it may all be sound, beside cloth told by voids of the other side
        if own > MANY:
            threshold = _flat_from(counts[middle + 1 :], n, max(astray, 5 * least_sd), left)
    centre = (middle - len(counts) // 2) * GRAIN
    return Tail(
        kink=kink,
        at=centre + at,
        threshold=centre + threshold,
        careful=centre + careful,
        lone=centre + lone,
        reach=reach,
        limit=limit,
        bare=bare,
        towards=GRAIN * _quantiles(towards, 0.9)[0],
        swing=own_sd,
    )


def _flat_from(counts: NDArray[np.int64], n: int, least: float, most: float) -> float:
    """From where on a tail no longer falls off as cloth does, between two distances, in log units.

    Where it does all the way, the further one.
    """
    upto = np.concatenate([[0], counts.cumsum()])
    fall = round(FALL / GRAIN)
    at = np.arange(round(least / GRAIN), round(most / GRAIN))
    near, next_ = (upto[at + fall * (k + 1)] - upto[at + fall * k] for k in (0, 1))
    flat = np.flatnonzero((near < FLAT * next_) & (next_ > SMALLEST_SHARE * n))
    return float(at[flat[0]]) * GRAIN if len(flat) else most


def _told_as_void(share: float) -> float:
    """How much of a cloth is told as void: where two places or more of those that tell it are.

    Parameters
    ----------
    share : of the cloth that is void, of the look that is not being told
    """
    sound = 1 - share
    return 1 - sound**PLACES - PLACES * share * sound ** (PLACES - 1)


def _counted(excess: NDArray[np.float32], often: NDArray[np.int64] | None) -> NDArray[np.int64]:
    """How many values there are at each multiple of the grain, from the lowest to the highest.

    All that is asked of the values can then be read from some thousand counts.
    """
    reach = int(FURTHEST_LOG / GRAIN)
    steps = np.rint(excess * np.float32(1 / GRAIN)).astype(np.int32)
    np.clip(steps, -reach, reach, out=steps)
    steps += reach
    return np.bincount(steps, often, 2 * reach + 1).astype(np.int64)


def _quantiles(counts: NDArray[np.int64], *shares: float) -> list[int]:
    """The first steps up to which shares of what was counted lie."""
    upto = counts.cumsum()
    return np.searchsorted(upto, np.array(shares) * upto[-1]).tolist()


def _kink(
    counts: NDArray[np.int64], n: int, sd: float, *, least: float, most: float = math.inf
) -> tuple[float, float]:
    """The largest M s / h over the tail of ``counts`` beyond the middle, and where it is.

    No nearer to the middle than ``least`` and no further than ``most``, in log units.
    """
    edges = np.arange(int(FURTHEST / STEP) + 2) * STEP * sd / GRAIN
    upto = np.concatenate([[0.0], counts.cumsum()])
    edges[-1] = max(edges[-1], len(upto))  # whatever lies further still is in the last bin
    # A step of the grain holds its values spread over its width, half of it before it.
    counts = np.diff(np.interp(edges - 0.5, np.arange(len(upto)), upto))
    beyond = counts[::-1].cumsum()[::-1]
    # Density over half a deviation, with a few counts added: an empty bin proves nothing.
    width = 5
    density = (np.convolve(counts, np.ones(width), mode="same") + 3) / (width * STEP)
    back = 8
    steep = np.zeros_like(density)
    steep[back:] = (np.log(density[:-back]) - np.log(density[back:])) / (back * STEP)
    statistic = beyond * steep / density
    allowed = (beyond >= SMALLEST_SHARE * n) & (beyond <= LARGEST_SHARE * n)
    allowed[: math.ceil(least / (STEP * sd))] = False
    allowed[math.ceil(min(most / (STEP * sd), len(allowed))) :] = False
    if not allowed.any():
        return 0.0, FURTHEST
    statistic = np.where(allowed, statistic, 0.0)
    best = int(statistic.argmax())
    return float(statistic[best]), best * STEP
