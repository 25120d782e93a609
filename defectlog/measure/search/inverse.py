"""Light told as its inverse, on which voids brighter than their surface are dark.

A pale patch on two-tone cloth is several times as bright as the dark tows about it, and hardly
brighter than the light ones. As darkness, no tow stands far out of it.
"""

from dataclasses import replace
from statistics import NormalDist

import numpy as np

from defectlog.measure.arrays.halves import both
from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.pixels import FloatArray, places_at_half
from defectlog.measure.candidates import single_dashes
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging, outline, pinholes
from defectlog.measure.outlines.zone import Zone, zone_by_light

# Voids drawn over several tows lie on light ones by six tenths and more of what of the cloth is
# light, what is mirrored by a third at most, if it is wide; if not, the middle of its edge is 1.4
# pixels wide and more, and that of theirs 0.9 at most. Of the picture's blur nothing is left to
# tell by where all is soft.
SEVERAL_TOWS_MM2, ON_LIGHT, SOFT_EDGE_PX = 8.0, 0.45, 1.15
SAMPLED = 4  # of so many pixels along a side of the cloth one says how much of it is light
# Below this breadth the inverse has moved outlines too far to go by them; from there to the other
# both light and outlines tell an area, if there are so many.
BY_LIGHT_PX, BY_BOTH_PX, LEAST_BY_BOTH = 9.0, 22.0, 5
# How far a straight edge has risen by so many deviations of its blur.
DEVIATIONS = np.linspace(-4.0, 4.0, 401)
RISEN = np.array([NormalDist().cdf(place) for place in DEVIATIONS])
STRAIGHT = float(np.ptp(np.interp(outline.LEVELS, RISEN, DEVIATIONS)))  # from 35 to 65 %
LEAST_TIMES = 1.01


def as_bright(found: Found, zone: Zone, surface: Surface) -> Found:
    """Voids found as dark ones on inverse light, told as the bright ones they are.

    Parameters
    ----------
    found : on ``surface``, of inverse light and without its weave
    zone : of what was found, by that light

    Notes
    -----
    Blur leaves the light of a void as much as it was, but not the inverse of that: small voids
    are sized by light. Outlines run halfway in the inverse; halfway in light is further in, where
    of two levels V and A the inverse has risen by V / (V + A).
    """
    by_light = zone_by_light(zone)
    (height, around), (missing, mirrored, light) = both(
        lambda: outline.heights_of(by_light),
        lambda: (
            outline.missing_light(by_light),
            _is_mirrored(found, zone, surface),
            _light_of(found, zone),
        ),
    )
    times = 1 + np.maximum(height, 0) / np.maximum(1 + around, 0.05)
    area, blur = _sizes_in_light(found, height, around, missing, times)
    yarn = single_dashes.left_of_a_yarn(surface, light, found.area, found.kept & ~mirrored)
    dropped = mirrored | yarn
    return replace(
        found.without(mirrored, judging.SOFT).without(yarn, judging.WEAVE),
        look=None if found.look is None else "bright",
        height=times - 1,
        area=area,
        struck=found.struck | found.drawn(dropped) if dropped.any() else found.struck,
        blur_px=blur,
    )


def _light_of(found: Found, zone: Zone) -> FloatArray:
    """The mean light of each object, of its inverse as the zone is, in steps of it."""
    return found.shapes.means(ONE - ONE * zone.contrast[: zone.own])


def _sizes_in_light(
    found: Found, height: FloatArray, around: FloatArray, missing: FloatArray, times: FloatArray
) -> tuple[FloatArray, float]:
    """The areas of what was found in the inverse, and the blur, as light shows them.

    ``times`` (n,) is how many times as bright as the surface each is.
    """
    first, middle, last = (_places_in_light(times, level) for level in outline.LEVELS)
    told = found.kept if found.kept.any() else np.ones_like(found.kept)
    # It was seen at edges of the inverse, which are steeper there.
    blur = found.blur_px * float(STRAIGHT / np.median((last - first)[told]))
    length, breadth = found.shapes.length, found.shapes.breadth
    contrast = pinholes.resolved_contrast(
        np.maximum(missing, 0), np.maximum(height, 1e-3), length, breadth, blur, around=around
    )
    by_light = missing / contrast
    by_count = np.maximum(found.area + middle / (last - first) * found.soft_px, 0.0)
    by_either = told & (breadth >= BY_LIGHT_PX) & (breadth < BY_BOTH_PX)
    by_either &= (by_light > 0) & (by_count > 0)
    if np.count_nonzero(by_either) >= LEAST_BY_BOTH:
        # Where cloth shows through, a void is taken for as bright all over as it is on light
        # tows, and its light for that of a smaller one.
        by_light /= np.median(by_light[by_either] / by_count[by_either])
    small = (breadth < BY_LIGHT_PX) & (by_light > 0)
    return np.where(small, by_light, by_count), blur


def _places_in_light(times: FloatArray, level: float) -> FloatArray:
    """Where a blurred straight edge's inverse reaches a level, from where its light is halfway.

    Parameters
    ----------
    times : (n,) how many times as bright as the surface each void is, above 1
    level : 0 to 1, of the inverse

    Returns
    -------
    (n,) in deviations of the blur, towards the void
    """
    times = np.maximum(times, LEAST_TIMES)
    light = (1 / (1 - level * (1 - 1 / times)) - 1) / (times - 1)
    return np.interp(light, RISEN, DEVIATIONS)


def _is_mirrored(found: Found, zone: Zone, surface: Surface) -> BoolImage:
    """Which large objects are light that is mirrored.

    It fades out, and what it adds shows most on dark tows. A void several tows wide is sharp, and
    lies on light tows as well, be these much of the cloth or little, as where tows gleam in lines.
    """
    own = slice(0, zone.own)
    # Inverse: what is light is below.
    is_light = surface.expected.ravel().take(places_at_half(zone.at[own], zone.shape[1])) < ONE
    is_light = np.bincount(zone.label[own], is_light, zone.count)
    on_light = is_light / np.maximum(found.shapes.area, 1)
    around = outline.length_of(zone.sides)
    soft = found.soft_px > SOFT_EDGE_PX * np.maximum(around, 1)
    some, same = ((slice(None, None, step),) * 2 for step in (SAMPLED, 2 * SAMPLED))
    inspected = surface.inspected[same]
    cloth = np.count_nonzero((surface.expected[some] < ONE) & inspected)
    asked = ON_LIGHT * cloth / max(np.count_nonzero(inspected), 1)
    return (found.area > SEVERAL_TOWS_MM2 * surface.px_per_mm**2) & (soft | (on_light < asked))
