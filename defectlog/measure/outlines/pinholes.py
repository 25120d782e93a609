"""The size of pinholes only a few pixels across, from how much light they take away."""

import numpy as np

from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.outlines import blurred

# From this breadth at half contrast on, in pixels and in deviations of the blur, the pixels
# themselves are counted; below, blur and the pixel grid decide what a count says, but not the
# sum of the missing light. No sooner: a phone's sharpening deepens what is small, so that light
# over contrast makes it up to a fifth too small, and leaves the outline at half where it is. Nor
# later: an outline three deviations across is that of the blur, however small the void is.
COUNTED_FROM_PX, COUNTED_FROM_BLURS = 4.5, 4.0
SHARPEST_PX = 0.45
SOFTEST_PX = 4.0
# Of what voids stand out from the even light, they do so much at least from any tow.
LEAST_OWN = 0.5
# How many voids are compared with each other, and how far apart in size, in log units.
# Voids are about as strong as the strong ones, and large ones hardly weaker than small ones.
AS_STRONG_AS, AS_STRONG = 0.7, 0.9
# Half the width, in pixels, from which on the edges of voids say how blurred a picture is; smaller
# ones' edges are few pixels, and say so less surely.
TELLING_HALF_PX = 3.5, 2.0
MOST_COMPARED, LEAST_APART = 150, 0.1
# Radii of small voids, in deviations of the blur, so many of which tell one of their own: where the
# middle is this near to the lower fourth, if it is not far beyond that of the larger ones.
SMALL, LEAST_SMALL, AGREEING, MOST_SOFTER = (0.8, 1.5), 40, 1.07, 1.35
USUAL_PX = 0.9  # blur of a sharp phone picture, where the picture itself cannot say


def blur_each(
    edge_px: FloatArray, half_px: FloatArray, long: FloatArray | float, *, least: float
) -> FloatArray:
    """The blur that each void's edge speaks of.

    Parameters
    ----------
    edge_px : (n,) pixels over which each void falls from 65 to 35 % of its plateau
    half_px : (n,) its radius, or half its width, at 50 %
    long : from ``how_long``
    least : half the width, in pixels, from which on an edge can be told

    Returns
    -------
    Standard deviation of the blur in pixels; NaN for voids too small or too large to tell.
    """
    clear = (half_px > least) & (half_px < 40) & (edge_px > 0)
    seen = edge_px / np.maximum(half_px, 1e-9)
    # Edge over half the width falls steadily as a void grows against its blur.
    disc, slit = (
        half_px / np.interp(seen, (edge / half)[::-1], half[::-1])
        for edge, half in (
            (blurred.DISC_EDGE, blurred.DISC_HALF_RADIUS),
            (blurred.SLIT_EDGE, blurred.SLIT_HALF_WIDTH),
        )
    )
    blur = disc ** (1 - long) * slit**long
    return np.where(clear, np.clip(blur, SHARPEST_PX, SOFTEST_PX), np.nan)


def blur_of_strong(
    edge_px: FloatArray, half_px: FloatArray, height: FloatArray, long: FloatArray | float = 0.0
) -> float | None:
    """The blur of the picture by its stronger voids; cloth among them would look softer.

    By the larger ones, or where these are no voids by smaller ones. None where too few are as
    strong as all others are.
    """
    for least in TELLING_HALF_PX:
        own = blur_each(edge_px, half_px, long, least=least)
        clear = np.isfinite(own)
        if np.count_nonzero(clear) < 5:
            continue
        strong = clear & (height >= AS_STRONG_AS * np.quantile(height[clear], 0.8))
        if np.count_nonzero(strong) < 5:
            strong = clear
        if not are_none_of_them(height[strong], height):
            # Whatever else lies at a void's edge makes it wider, never narrower.
            return float(np.median(own[strong]))
    return None


def are_none_of_them(large: FloatArray, voids: FloatArray) -> bool:
    """Whether large voids are weaker than the small, which blur has made weak: they are cloth."""
    return float(np.median(large)) < AS_STRONG * float(np.median(voids))


def blur_by_contrast(missing_px: FloatArray, plateau: FloatArray) -> float | None:
    """The blur that makes the contrast of resolved voids independent of their size."""
    usable = (missing_px > 0) & (plateau > 0)
    if np.count_nonzero(usable) < 20:
        return None
    total, level = missing_px[usable], plateau[usable]
    best, least = None, np.inf
    for sigma in np.arange(SHARPEST_PX, 2.5, 0.05):
        radius, contrast = disc_of(total, level, sigma)
        clear = radius > sigma
        if np.count_nonzero(clear) < 20:
            continue
        slope = _usual_slope(np.log(radius[clear]), np.log(contrast[clear]))
        if abs(slope) < least:
            best, least = float(sigma), abs(slope)
    return best


def _usual_slope(x: FloatArray, y: FloatArray) -> float:
    """The median slope from one point to another (Theil 1950, Sen 1968).

    Pits of the cloth among the voids are larger and weaker, and would bend any mean.
    """
    if len(x) > MOST_COMPARED:
        some = np.linspace(0, len(x) - 1, MOST_COMPARED).astype(np.intp)
        x, y = x[some], y[some]
    one, other = np.triu_indices(len(x), 1)
    apart = x[one] - x[other]
    far = np.abs(apart) > LEAST_APART
    if not far.any():
        return 0.0
    return float(np.median((y[one] - y[other])[far] / apart[far]))


def disc_of(
    missing_px: FloatArray, plateau: FloatArray, sigma: float
) -> tuple[FloatArray, FloatArray]:
    """Radius and contrast of the disc that, blurred, shows this much light missing.

    Parameters
    ----------
    missing_px : (n,) sum of contrast over each void, in pixels
    plateau : (n,) mean contrast of its upper part
    sigma : blur of the picture, pixels

    Returns
    -------
    radius in pixels, contrast the void would show if fully resolved
    """
    spread = blurred.DISC_RADIUS**2 / blurred.DISC_SHOWN
    seen = missing_px / np.maximum(plateau, 1e-9) / (np.pi * sigma**2)
    rho = np.interp(seen, spread, blurred.DISC_RADIUS)
    # Far above the table a void is all plateau.
    rho = np.where(seen > spread[-1], np.sqrt(np.maximum(seen, 0.0)), rho)
    contrast = plateau / np.interp(rho, blurred.DISC_RADIUS, blurred.DISC_SHOWN)
    return rho * sigma, contrast


def slit_of(
    missing_px: FloatArray, plateau: FloatArray, length_px: FloatArray, sigma: float
) -> tuple[FloatArray, FloatArray]:
    """Breadth and contrast of long ellipses; ``disc_of`` holds for round voids only."""
    width, shown, kept = blurred.SLIT_BREADTH, blurred.SLIT_SHOWN, blurred.SLIT_LENGTH
    seen = missing_px / np.maximum(plateau, 1e-9) / (np.pi / 4 * length_px * sigma)
    breadth = np.interp(seen, width / shown / kept, width)
    return breadth * sigma, plateau / np.interp(breadth, width, shown)


def resolved_contrast(
    missing_px: FloatArray,
    plateau: FloatArray,
    length_px: FloatArray,
    breadth_px: FloatArray,
    sigma: float,
    *,
    around: FloatArray | float = 0.0,
    most: FloatArray | float = np.inf,
) -> FloatArray:
    """Contrast each void would show if fully resolved, round or long.

    Below twice the blur a void's own contrast cannot be told from its size, and that of
    the picture's larger voids stands in; in between the two are blended. A void has a light of
    its own: ``around`` is the contrast of the surface about each to the even light, and what
    the larger ones show beyond the even light is taken from there. ``most`` is the contrast
    of no light at all.
    """
    contrast, half_breadth = _own_contrast(missing_px, plateau, length_px, breadth_px, sigma)
    usual = _usual_contrast(contrast, half_breadth, plateau, sigma, around)
    if usual is not None:
        own = np.clip(half_breadth / sigma - 1.0, 0.0, 1.0)
        contrast = contrast**own * usual ** (1 - own)
    # A void is at least as strong as what is seen of it, and a dark one no darker than black.
    return np.maximum(np.minimum(contrast, most), plateau)


def _own_contrast(
    missing_px: FloatArray,
    plateau: FloatArray,
    length_px: FloatArray,
    breadth_px: FloatArray,
    sigma: float,
) -> tuple[FloatArray, FloatArray]:
    """The contrast each void has by itself, round or long, and half its breadth."""
    radius, contrast = disc_of(missing_px, plateau, sigma)
    breadth, slit = slit_of(missing_px, plateau, length_px, sigma)
    long = how_long(length_px, breadth_px)
    # An object without any contrast of its own has no root either; it is dropped later on.
    contrast, slit = np.maximum(contrast, 1e-9), np.maximum(slit, 1e-9)
    half_breadth = np.where(long > 0, np.minimum(radius, breadth / 2), radius)
    return contrast ** (1 - long) * slit**long, half_breadth


def _usual_contrast(
    contrast: FloatArray,
    half_breadth: FloatArray,
    plateau: FloatArray,
    sigma: float,
    around: FloatArray | float,
) -> FloatArray | None:
    """What each void would show if it were as strong as the larger ones; None without such."""
    clear = half_breadth > 2.5 * sigma
    if clear.any() and are_none_of_them(plateau[clear], plateau):
        clear &= plateau >= AS_STRONG_AS * float(np.quantile(plateau, 0.8))
    if np.count_nonzero(clear) < 5:
        return None
    level = float(np.median((contrast + around)[clear]))
    return np.maximum(np.maximum(level - around, LEAST_OWN * level), 1e-9)


def blur_of_small(
    missing_px: FloatArray,
    plateau: FloatArray,
    length_px: FloatArray,
    breadth_px: FloatArray,
    sigma: float,
    *,
    around: FloatArray | float = 0.0,
) -> float:
    """The blur by which small voids are as strong as the larger ones; see ``resolved_contrast``.

    ``sigma`` is that by the edges of larger ones, and is what is told where small ones do not agree
    on more.

    Notes
    -----
    A camera that evens out noise and sharpens keeps long edges as steep as it can, and spreads what
    is small: the edges of large voids then say too little of the blur of small ones. By the light
    it takes away each of these has a radius, and how much of the usual contrast it shows says how
    many deviations of the blur that is. The blur is the same for all of them, while pits of the
    cloth, which are weaker, are so each in its own way.
    """
    contrast, half_breadth = _own_contrast(missing_px, plateau, length_px, breadth_px, sigma)
    usual = _usual_contrast(contrast, half_breadth, plateau, sigma, around)
    if usual is None:
        return sigma
    radius = np.interp(plateau / usual, blurred.DISC_SHOWN, blurred.DISC_RADIUS)
    small = (missing_px > 0) & (how_long(length_px, breadth_px) == 0)
    small &= (radius > SMALL[0]) & (radius < SMALL[1])
    if np.count_nonzero(small) < LEAST_SMALL:
        return sigma
    by_light = np.sqrt(missing_px[small] / (np.pi * usual[small]))
    fourth, third, half = np.quantile(by_light / radius[small], (1 / 4, 1 / 3, 1 / 2))
    agree = half < AGREEING * fourth and third < MOST_SOFTER * sigma
    return float(max(third, sigma)) if agree else sigma


def unblurred(length_px: FloatArray, breadth_px: FloatArray, sigma: float) -> FloatArray:
    """What the area within the outline at half contrast has to be multiplied by, round or long.

    The plateau is taken a little low, so the outline runs a little wide.
    """
    length, breadth = length_px / sigma, breadth_px / sigma
    half, true = blurred.DISC_HALF_RADIUS, blurred.DISC_RADIUS
    disc = np.interp(breadth / 2, half, true / half) * np.interp(length / 2, half, true / half)
    slit = np.interp(breadth, blurred.SLIT_HALF_BREADTH, blurred.SLIT_AREA)
    long = how_long(length, breadth)
    return disc ** (1 - long) * slit**long


def how_long(length: FloatArray, breadth: FloatArray) -> FloatArray:
    """0 for what is round enough to be told as a disc, 1 for what is told as a slit."""
    return np.clip((length / np.maximum(breadth, 0.5) - 1.4) / 0.8, 0.0, 1.0)
