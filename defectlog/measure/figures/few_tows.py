"""Regions so small that they show only a few tows: these say little about what cloth is like."""

import cv2
import numpy as np

from defectlog.measure.cloth.surface import Surface

# Less than about a dozen tows of fine cloth (common practice, no source).
SMALL_MM = 15.0


def beware_of_few_tows(surface: Surface) -> list[str]:
    """A warning where what is inspected of a region is small one way or the other."""
    _, _, wide, high = cv2.boundingRect(surface.inspected.view(np.uint8))
    across_mm = min(wide, high) / surface.px_per_mm
    if across_mm >= SMALL_MM:
        return []
    return [
        f"The region is only about {across_mm:.2g} mm across: if that is cloth, so few tows do "
        "not say what it is like, and parts of them may be counted as voids. Draw a larger region "
        "if you can, and look at the outlines."
    ]
