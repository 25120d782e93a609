"""The sizes of outlined objects: pixels counted, or light summed where they are small."""

from dataclasses import dataclass

import numpy as np

from defectlog.measure.arrays.halves import both, in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.outlines import blurred, judging, outline, pinholes, sharpened
from defectlog.measure.outlines.growing import GROW_PX
from defectlog.measure.outlines.outline import Rise
from defectlog.measure.outlines.shapes import Shapes, sized
from defectlog.measure.outlines.sound_light import REACH_PX
from defectlog.measure.outlines.zone import Zone

# The share of what lies between 35 and 65 % of the rise, 30 % of it, that outlines are off by.
OUTLINE_OFF = 0.004
# How far off the blur may be that pinholes are sized by: seen at the edges of larger voids, at
# those of long ones, or guessed by how contrast hangs on size.
BLUR_SEEN_OFF, BLUR_OF_LONG_OFF, BLUR_GUESSED_OFF = 0.03, 0.08, 0.1
LONG = 2.2
# So much is unsure of what a blur does that small voids alone speak of.
SOFTER_UNSURE = 0.5
# All of the light that blur takes beyond the surroundings of a void, for it is not seen.
LOST_UNSURE = 1.0
# Objects of fewer pixels say how contrast hangs on size.
MIDDLING_PX2 = 500
# Where the surface close about an object is looked at, in pixels from its outline; so many of
# them have to be left to it. Nearer than so many deviations of the blur, it is still the void.
RIM_PX, LEAST_RIM, LEAST_BLURS = GROW_PX - 0.5, 8, 1.25
WIDE_PX = 4 * REACH_PX


@dataclass(frozen=True, slots=True, eq=False)
class Objects:
    """Outlined objects, an entry each, in worked pixels.

    ``counted`` are pixels, those of glints ``within`` among them; ``edge`` is how many pixels
    each takes from 65 to 35 % of its rise, ``half`` half its width; ``around`` the length of its
    outline. ``missing`` is what its zone lacks in light, in pixels of full light, and ``rim`` the
    contrast of the furthest pixels of that, both to the surface it was judged by.
    """

    shapes: Shapes
    rise: Rise
    counted: FloatArray
    within: FloatArray
    edge: FloatArray
    half: FloatArray
    around: FloatArray
    missing: FloatArray
    rim: FloatArray

    def is_thin(self, shape: tuple[int, int]) -> BoolImage:
        """Which are pieces of hairs or scratches, on a picture of that shape."""
        shapes = self.shapes
        frayed = judging.is_frayed_round(self.counted, shapes.length, shapes.breadth)
        return judging.is_thin(shapes.at, shapes.label, shape, self.counted, self.around, frayed)


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """The areas of objects and the picture's blur they were told by, in worked pixels.

    ``unsure_px`` is what outlines that run a little further out, and a blur that is a little off,
    do to each. ``seam`` is that of sharpening, as a share of their contrast.
    """

    area: FloatArray
    unsure_px: FloatArray
    blur_px: float
    seam: float


def outlined_objects(
    zone: Zone, mask: BoolImage, glints: IndexArray, *, many_tones: bool = False
) -> Objects:
    """What outlined objects are like.

    Parameters
    ----------
    zone : of the objects of ``mask``
    mask : (M, N) bool
    glints : where in the flattened mask glints within objects were filled
    many_tones : whether what is close about an object does not tell what it lies on, as where
        light tows meet dark ones
    """
    rise, (shapes, around, missing, rim) = both(
        lambda: outline.rise_of(zone),
        lambda: (
            sized(
                zone.at[: zone.own],
                zone.label[: zone.own],
                count=zone.count,
                columns=mask.shape[1],
                runs=zone.runs,
            ),
            outline.length_of(zone.sides),
            outline.missing_light(zone),
            np.zeros(zone.count) if many_tones else _at_the_rim(zone),
        ),
    )
    within = np.bincount(zone.runs.of(glints), minlength=zone.count)
    counted = rise.counted + within
    return Objects(
        shapes,
        rise,
        counted,
        within,
        outline.edge_width(rise, around),
        judging.half_width(counted, around),
        around,
        missing,
        rim,
    )


def _at_the_rim(zone: Zone) -> FloatArray:
    """Mean contrast of the furthest pixels of each zone; 0 where others leave too few of them."""
    label = np.concatenate([zone.label[part] for part in zone.rim])
    off = np.concatenate([zone.contrast[part] - zone.around[part] for part in zone.rim])
    often, total = np.bincount(label, minlength=zone.count), np.bincount(label, off, zone.count)
    return np.where(often >= LEAST_RIM, total / np.maximum(often, 1), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Light:
    """What objects lack in light against the surface close about them; see ``Objects``."""

    height: FloatArray
    missing: FloatArray
    around: FloatArray


def _against(objects: Objects, off: FloatArray) -> _Light:
    """The light of objects against a surface that is so far off that they were judged by."""
    rise = objects.rise
    return _Light(rise.height - off, objects.missing - off * rise.zone_px, rise.around + off)


def _close_about(objects: Objects, sigma: float, seam: float = 0.0) -> _Light:
    """The light of objects against the surface close about them, in a picture so blurred.

    Voids like to lie where gaps between tows cross, which are darker than the mean of what is
    near: taken for missing light, that would make a small void half as large again. A ``seam``, as
    a share of their contrast, is none of that surface.
    """
    if LEAST_BLURS * sigma > RIM_PX:
        return _against(objects, np.zeros_like(objects.rim))
    seams = seam * np.maximum(objects.rise.height, 0)
    close = objects.rim - _own_rim(objects, sigma) + seams
    return _against(objects, np.where(objects.rim != 0, close, 0.0) if seam else close)


def _in_zones(light: _Light, sigma: float) -> FloatArray | float:
    """The share of their light that voids have within their zones, in a picture so blurred.

    Where the surface close about them is none, the zone ends in what blur leaves of them.
    """
    if LEAST_BLURS * sigma <= RIM_PX:
        return 1.0
    radius, _ = pinholes.disc_of(light.missing, light.height, sigma)
    lost = blurred.disc_lost(GROW_PX / sigma)
    return 1 - np.interp(radius / sigma, blurred.DISC_RADIUS, lost)


def _own_rim(objects: Objects, sigma: float) -> FloatArray:
    """The contrast that voids themselves leave to their rims, in a picture so blurred."""
    light = _against(objects, objects.rim)
    radius, _ = pinholes.disc_of(light.missing, light.height, sigma)
    left = blurred.disc_beyond(RIM_PX / sigma)
    return np.interp(radius / sigma, blurred.DISC_RADIUS, left) * np.maximum(light.height, 0)


def _halfway(objects: Objects, light: _Light) -> FloatArray:
    """Pixels of objects beyond halfway between them and the surface close about them.

    About a wide object what is near to one side is not what is near to another, and it is judged by
    either as it is.
    """
    rise = objects.rise
    _, half, far = rise.areas.T
    # The other way it may be the seam that sharpening draws about a void.
    off = np.maximum(light.around - rise.around, 0) / np.maximum(rise.height, 1e-9)
    moved = np.minimum(0.5 * off / (outline.LEVELS[2] - outline.LEVELS[1]), 1) * (far - half)
    return objects.counted + np.where(objects.shapes.breadth < WIDE_PX, moved, 0)


def _round(objects: Objects) -> FloatArray:
    """Lengths of outlines, of the direction that each object has.

    The sides of its pixels overrate an outline by 4 / π over all directions; one that runs along
    rows or columns not at all. Those of an ellipse are twice what it takes up of both; its outline
    is Ramanujan's (1914).
    """
    shapes = objects.shapes
    angle = np.radians(shapes.direction_deg)
    a, b = np.maximum(shapes.length, 1) / 2, np.maximum(shapes.breadth, 1) / 2
    ellipse = np.pi * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b)))
    sides = 4 * (
        np.hypot(a * np.cos(angle), b * np.sin(angle))
        + np.hypot(a * np.sin(angle), b * np.cos(angle))
    )
    return objects.around * ellipse / (np.pi / 4 * sides)


def sizes_of(
    objects: Objects, telling: BoolImage, *, dark: bool, usual_px: float = pinholes.USUAL_PX
) -> Sizes:
    """The areas of objects.

    Parameters
    ----------
    objects : (n,)
    telling : (n,) bool, those that say how blurred the picture is
    dark : whether they are darker than the surface
    usual_px : blur of a picture where nothing tells it
    """
    shapes, height = objects.shapes, objects.rise.height
    length, breadth = shapes.length, shapes.breadth
    blur, off = _blur_of(objects, telling, usual_px)
    light = _close_about(objects, blur)
    of_small = pinholes.blur_of_small(
        light.missing, light.height, length, breadth, blur, around=light.around
    )
    small = breadth < np.maximum(pinholes.COUNTED_FROM_PX, pinholes.COUNTED_FROM_BLURS * of_small)
    small &= objects.within == 0
    in_zone = _in_zones(light, of_small)
    rim = np.where(objects.rim != 0, objects.rim - _own_rim(objects, of_small), 0.0)
    seam = sharpened.seam_of(rim, height, np.where(telling, objects.half, 0))
    sharp = min(seam / sharpened.SEAM, 1.0) * sharpened.felt_by(breadth, blur)
    moved = sharp * sharpened.moved_inwards(height, blur, dark=dark) * objects.around
    left = 1 - sharp * sharpened.TAKES_BACK
    summed = seam * sharpened.beyond_zones(of_small)

    def area_at(
        times: float,
        of_small: float = of_small,
        left: FloatArray | float = left,
        seam: float = summed,
    ) -> FloatArray:
        light = _close_about(objects, times * of_small, seam)
        most = 1 - light.around if dark else np.inf
        by_light = light.missing / pinholes.resolved_contrast(
            light.missing,
            light.height,
            length,
            breadth,
            times * of_small,
            around=light.around,
            most=most,
        )
        by_light /= in_zone
        by_count = _halfway(objects, light)
        by_count *= pinholes.unblurred(length, breadth, times * blur) ** left
        return np.where(small & (by_light > 0), by_light, by_count + moved)

    area, with_more_blur = in_two(area_at, 1.0, 1 + off)
    unsure = OUTLINE_OFF * objects.rise.spread + np.abs(with_more_blur - area)
    unsure += np.where(small, LOST_UNSURE * (1 - in_zone) * area, 0.0)
    if seam > 0:
        as_taken = area_at(1.0, left=1.0, seam=0.0)
        unsure += sharpened.UNSURE * (np.abs(area - as_taken) + np.abs(moved))
        unsure += np.where(small, sharpened.LIGHT_UNSURE * seam * area, 0.0)
    if of_small > blur:
        unsure += SOFTER_UNSURE * np.abs(area - area_at(1.0, of_small=blur))
    return Sizes(area, unsure, blur, seam)


def _blur_of(objects: Objects, telling: BoolImage, usual_px: float) -> tuple[float, float]:
    """The blur of the picture, and the share that it may be off by; see ``sizes_of``."""
    shapes, height = objects.shapes, objects.rise.height
    around = _round(objects)
    seen = pinholes.blur_of_strong(
        (objects.rise.spread / np.maximum(around, 1))[telling],
        judging.half_width(objects.counted, around)[telling],
        height[telling],
        pinholes.how_long(shapes.length, shapes.breadth)[telling],
    )
    if seen:
        stretched = shapes.length[telling] / np.maximum(shapes.breadth[telling], 1)
        return seen, BLUR_OF_LONG_OFF if np.median(stretched) > LONG else BLUR_SEEN_OFF
    middling = (objects.counted < MIDDLING_PX2) & telling
    light = _against(objects, objects.rim)
    guessed = pinholes.blur_by_contrast(light.missing[middling], light.height[middling])
    return guessed or usual_px, BLUR_GUESSED_OFF
