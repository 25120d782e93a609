"""Whether what was found comes again with the weave: the floats of a satin do, and no voids."""

import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import Vector

# Of floats, outlined as raggedly as tows are, a fifth and more lies on others when moved by a
# repeat of the weave: eight times as much as by chance. Of voids it is two and a half times at the
# most, as they gather in gaps; measured on rendered surfaces.
LEAST, TIMES = 0.15, 4.0


def comes_again(mask: BoolImage, surface: Surface) -> bool:
    """Whether objects (M, N) of a surface lie on each other when moved by a repeat of its weave."""
    count = np.count_nonzero(mask)
    if not count:
        return False
    by_chance = count / surface.inspected_px
    shares = [_moved_onto_itself(mask, vector) / count for vector in surface.weave()]
    return max(shares, default=0.0) > max(LEAST, TIMES * by_chance)


def _moved_onto_itself(mask: BoolImage, by: Vector) -> int:
    """How many pixels of a mask lie on others when it is moved."""
    here, there = (
        mask[
            tuple(
                slice(max(off, 0), side + min(off, 0))
                for off, side in zip(way, mask.shape, strict=True)
            )
        ]
        for way in (by, (-by[0], -by[1]))
    )
    return np.count_nonzero(here & there)
