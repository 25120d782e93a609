"""Nets all over a surface: dark tows that run into one another, grooves of a core full of resin."""

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import rows_and_columns
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave_objects import Objects
from defectlog.measure.outlines import outline
from defectlog.measure.outlines.shapes import LONG_FROM, sized
from defectlog.measure.patches.halfway import framed

# An object of so much of the surface is no void if no place of it is wide, against the radius of
# the disc of its area, and it is longer by so many times than from end to end.
SHARE, CORE, TURNS = 0.02, 0.2, 2.0


def of_nets(objects: Objects, surface: Surface) -> BoolImage:
    """Which objects are nets, or bars of them that are broken off at both ends.

    Parameters
    ----------
    objects : from ``weave_objects.objects_of``
    surface : they lie on

    Returns
    -------
    (n + 1,) bool array, as ``weave_objects.repeating`` gives it
    """
    large = objects.areas > SHARE * surface.inspected_px
    large[0] = False
    if not large.any():
        return large
    widest = outline.widest_half(objects.at, objects.label, large, surface.ratio.shape)
    net = large & (widest < CORE * np.sqrt(objects.areas / np.pi))
    for one in np.flatnonzero(net):
        places = rows_and_columns(objects.at[objects.label == one], surface.ratio.shape[1])
        end_to_end = float(np.hypot(*(np.ptp(axis) + 1 for axis in places)))
        # A dry line along an edge is thin as well, and goes straight on.
        net[one] = objects.areas[one] / (2 * widest[one]) > TURNS * end_to_end
    return net | _bars(objects, net, surface, widest[net].max()) if net.any() else net


def _bars(objects: Objects, net: BoolImage, surface: Surface, half_px: float) -> BoolImage:
    """Which objects go from a net to a net, or to the edge of what is inspected.

    What shows of a groove is lost where a tow lies over it, and its bars are longer than the net's
    widest place, half of which is ``half_px``.
    """
    free = surface.inspected & ~objects.drawn(net)
    shapes = sized(objects.at, objects.label - 1, count=len(net) - 1, columns=free.shape[1])
    bars = shapes.length > LONG_FROM * np.maximum(shapes.breadth, half_px)
    some = np.flatnonzero(bars & ~net[1:])
    turn = np.radians(shapes.direction_deg[some])
    far = cv2.distanceTransform(framed(free, 1).view(np.uint8), cv2.DIST_L2, 3)
    for end in (0.5, -0.5):
        x = shapes.x[some] + end * shapes.length[some] * np.cos(turn)
        y = shapes.y[some] - end * shapes.length[some] * np.sin(turn)
        row, column = (
            np.clip(np.rint(at), -1, side).astype(np.int64) + 1
            for at, side in zip((y, x), free.shape, strict=True)
        )
        bars[some] &= far[row, column] <= shapes.breadth[some]
    return np.append(False, bars)
