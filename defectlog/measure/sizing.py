"""The sizes of outlined objects: pixels counted, or light summed where they are small."""

from dataclasses import dataclass

import numpy as np

from defectlog.measure import judging, outline, pinholes
from defectlog.measure.halves import both, in_two
from defectlog.measure.light import BoolImage
from defectlog.measure.outline import Rise
from defectlog.measure.pixels import FloatArray, IndexArray
from defectlog.measure.shapes import Shapes, sized
from defectlog.measure.zone import Zone

# The share of what lies between 35 and 65 % of the rise, 30 % of it, that outlines are off by.
OUTLINE_OFF = 0.02
# How far off the blur may be that pinholes are sized by: seen at the edges of larger voids, or
# guessed by how contrast hangs on size.
BLUR_SEEN_OFF, BLUR_GUESSED_OFF = 0.04, 0.2
# Objects of fewer pixels say how contrast hangs on size.
MIDDLING_PX2 = 500


@dataclass(frozen=True, slots=True, eq=False)
class Objects:
    """Outlined objects, an entry each, in worked pixels.

    ``counted`` are pixels, those of glints ``within`` among them; ``edge`` is how many pixels
    each takes from 65 to 35 % of its rise, ``half`` half its width; ``around`` the length of its
    outline.
    """

    shapes: Shapes
    rise: Rise
    counted: FloatArray
    within: FloatArray
    edge: FloatArray
    half: FloatArray
    around: FloatArray

    def is_thin(self, shape: tuple[int, int]) -> BoolImage:
        """Which are pieces of hairs or scratches, on a picture of that shape."""
        shapes = self.shapes
        return judging.is_thin(shapes.at, shapes.label, shape, self.counted, self.around)


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """The areas of objects and the picture's blur they were told by, in worked pixels.

    ``unsure_px`` is what outlines that run a little further out, and a blur that is a little off,
    do to each.
    """

    area: FloatArray
    unsure_px: FloatArray
    blur_px: float


def outlined_objects(zone: Zone, mask: BoolImage, glints: IndexArray) -> Objects:
    """What outlined objects are like.

    Parameters
    ----------
    zone : of the objects of ``mask``
    mask : (M, N) bool
    glints : where in the flattened mask glints within objects were filled
    """
    rise, (shapes, around) = both(
        lambda: outline.rise_of(zone),
        lambda: (
            sized(
                zone.at[: zone.own],
                zone.label[: zone.own],
                count=zone.count,
                columns=mask.shape[1],
                runs=zone.runs,
            ),
            outline.perimeters(mask, zone.edge, zone.edge_label, zone.count),
        ),
    )
    filled = np.searchsorted(zone.at[: zone.own], glints)
    within = np.bincount(zone.label[filled], minlength=zone.count)
    counted = rise.counted + within
    return Objects(
        shapes,
        rise,
        counted,
        within,
        outline.edge_width(rise, around),
        judging.half_width(counted, around),
        around,
    )


def sizes_of(objects: Objects, telling: BoolImage, *, dark: bool) -> Sizes:
    """The areas of objects.

    Parameters
    ----------
    objects : (n,)
    telling : (n,) bool, those that say how blurred the picture is
    dark : whether they are darker than the surface
    """
    rise, shapes = objects.rise, objects.shapes
    height, missing = rise.height, rise.missing
    seen = judging.blur_of_strong(objects.edge[telling], objects.half[telling], height[telling])
    middling = (objects.counted < MIDDLING_PX2) & telling
    blur = (
        seen or pinholes.blur_by_contrast(missing[middling], height[middling]) or pinholes.USUAL_PX
    )
    length, breadth = shapes.length, shapes.breadth
    most = 1 - rise.around if dark else np.inf
    small = breadth < np.maximum(pinholes.COUNTED_FROM_PX, pinholes.COUNTED_FROM_BLURS * blur)
    small &= objects.within == 0

    def area_at(sigma: float) -> FloatArray:
        by_light = missing / pinholes.resolved_contrast(
            missing, height, length, breadth, sigma, around=rise.around, most=most
        )
        by_count = objects.counted * pinholes.unblurred(length, breadth, sigma)
        return np.where(small & (by_light > 0), by_light, by_count)

    more = blur * (1 + (BLUR_SEEN_OFF if seen else BLUR_GUESSED_OFF))
    area, with_more_blur = in_two(area_at, blur, more)
    return Sizes(area, OUTLINE_OFF * rise.spread + np.abs(with_more_blur - area), blur)
