"""What the outline of a patch shows laid elsewhere on the surface."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.cloth_maps import ClothMap
from defectlog.measure.patches.patch_outlines import Candidate

LEAST_PLACES = 200  # to tell what is usual by


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """The step across an outline, over those it would show elsewhere on the surface.

    ``deviations`` in robust ones of all places, ``highest`` over the highest of them.
    """

    deviations: float
    highest: float


def elsewhere(
    found: Candidate, chart: ClothMap, sign: int, held: BoolImage, known: BoolImage | None = None
) -> Elsewhere:
    """Lay the same outline all over the surface, but on ``known`` patches, and see its steps.

    Slow gleams, bands of unequal tows and the weave itself are on the rest of the surface too:
    a patch shows a step that no other place does.
    """
    inner, outer = (rim / max(np.count_nonzero(rim), 1) for rim in found.rims)
    kernel = (inner - outer).astype(np.float32)
    steps = sign * cv2.filter2D(
        np.where(held, chart.own, np.float32(0)), cv2.CV_32F, kernel, borderType=cv2.BORDER_REFLECT
    )
    others = held.copy()
    rows, columns = (np.ptp(axis) + 1 for axis in np.nonzero(found.cells))
    at = [(edge.start + size // 2) for edge, size in zip(found.where, kernel.shape, strict=True)]
    apart = [
        slice(max(0, middle - int(0.7 * size)), middle + int(0.7 * size) + 1)
        for middle, size in zip(at, (rows, columns), strict=True)
    ]
    others[apart[0], apart[1]] = False
    if known is not None and known.any():
        others &= cv2.dilate(known.view(np.uint8), np.ones(kernel.shape, np.uint8)) == 0
    if np.count_nonzero(others) < LEAST_PLACES:
        return Elsewhere(0.0, 0.0)
    shown = steps[others]
    usual = 1.4826 * float(middle_of(np.abs(shown)))
    return Elsewhere(found.step / max(usual, 1e-4), found.step / max(float(shown.max()), 1e-4))
