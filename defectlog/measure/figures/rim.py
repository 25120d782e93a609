"""Whether an outlined region reaches over the rim of the part, or onto what lies beside it."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.patches.halfway import filled, to_outline

# A band along the edge of the region, and within which light nothing of a surface lies but voids:
# shares of the light about it.
BAND_MM, BAND_PX = 1.5, (8.0, 40.0)
DARK, BRIGHT = 0.7, 1 / 0.7
# Of 53 photos of the demo, outlined as they should be, the band differs so on 2 % of it at most;
# with outlines a twentieth too wide, over the chamfer of the part, on 5 to 57 % of nearly all.
LEAST_SHARE, TIMES_INSIDE = 0.05, 4.0
CELL = 4  # pixels along a side of those looked at


@dataclass(frozen=True, slots=True)
class Rim:
    """What along a region's edge is far from the light of the surface.

    ``share`` is how much of the band along it is so, 0–1; ``band`` one twice as wide and ``beyond``
    what of that is so, as masks of the surface.
    """

    share: float
    look: Look
    band: BoolImage
    beyond: BoolImage


def rim_of(surface: Surface) -> Rim | None:
    """What lies along the edge of an outlined surface, if it is unlike the surface inside.

    Where the edge of the region is that of the picture, a card or glare, nothing is looked for.
    """
    some = (slice(None, None, CELL),) * 2
    inspected, light = surface.inspected[some], surface.smooth[some]
    away = to_outline(filled(np.ascontiguousarray(inspected)))
    wide = float(np.clip(BAND_MM * surface.px_per_mm, *BAND_PX)) / CELL
    band, inside = inspected & (away < wide), inspected & (away >= 2 * wide)
    if not band.any() or not inside.any():
        return None
    found: list[tuple[float, Look]] = []
    looks: tuple[tuple[Look, BoolImage], ...] = (
        ("dark", light < DARK * ONE),
        ("bright", light > BRIGHT * ONE),
    )
    for look, beyond in looks:
        share, usual = (float(np.mean(beyond[part])) for part in (band, inside))
        if share > max(LEAST_SHARE, TIMES_INSIDE * usual):
            found.append((share, look))
    if not found:
        return None
    share, look = max(found)
    rows, columns = surface.inspected.shape
    size = (CELL * inside.shape[1], CELL * inside.shape[0])
    rest = cv2.resize(inside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    band = surface.inspected & (rest[:rows, :columns] == 0)
    beyond = surface.smooth < DARK * ONE if look == "dark" else surface.smooth > BRIGHT * ONE
    return Rim(share, look, band, beyond & band)
