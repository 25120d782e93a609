"""How patches are told: the maps of the cloth as a whole, and what stands out on them."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage, FloatImage, GreyImage
from defectlog.measure.cloth.cloth_maps import cloth_maps
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.patches.patches import Patch, cell_sizes, find_patches
from defectlog.measure.search.joining import PART_MM2

# So far off, in log units of light and of the swing, a map is drawn white or black.
TONE_SHOWN, SWING_SHOWN = 0.3, 0.7
_MIDDLE = 128.0


@dataclass(frozen=True, slots=True)
class ClothSeen:
    """The maps that patches are looked for on, as grey values, and what was found.

    ``tone`` is the light of the cloth averaged over its tows against the cloth round about,
    paler is brighter; ``swing`` how much light and dark alternate in it, more is brighter.
    ``outlines`` are those of patches as (x, y) in pixels of the maps, each with whether it was
    counted. What shows too little of the surface is of the middle grey.
    """

    tone: GreyImage
    swing: GreyImage
    outlines: tuple[tuple[NDArray[np.int32], bool], ...]

    @property
    def counted(self) -> int:
        return sum(is_counted for _, is_counted in self.outlines)


def see_cloth(
    surface: Surface,
    standing_out: BoolImage,
    size: tuple[int, int],
    *,
    counted: BoolImage | None = None,
) -> ClothSeen:
    """Draw the maps of a surface at a size, and outline its patches.

    Parameters
    ----------
    surface : evenly lit
    standing_out : (M, N) bool, what is looked at as voids; the small ones are left out here
    size : width and height to draw at
    counted : (M, N) bool, the voids in the end, if they are known: these are left out instead,
        and tell which patches were counted. The cloth alone does not: patches beside folds are
        not counted
    """
    voids = standing_out if counted is None else counted
    voids = _small(voids, PART_MM2 * surface.px_per_mm**2)
    tone, swing, cells = cloth_maps(surface, voids, *cell_sizes(surface))
    rows, columns = surface.inspected.shape
    shrink = np.array([size[0] / columns, size[1] / rows])
    return ClothSeen(
        _drawn(tone.wide, cells.held, TONE_SHOWN, size),
        _drawn(swing.wide, cells.held, SWING_SHOWN, size),
        tuple(
            (np.round(outline * shrink).astype(np.int32), _is_counted(patch, counted))
            for patch in find_patches(surface, voids)
            for outline in _outlines(patch)
        ),
    )


def _is_counted(patch: Patch, counted: BoolImage | None) -> bool:
    """Whether most of a patch is among the voids, as far as they are known."""
    if counted is None:
        return patch.is_sure
    rows, columns = patch.mask.shape
    window = counted[patch.top : patch.top + rows, patch.left : patch.left + columns]
    return bool(window[patch.mask].mean() > 0.5)


def _small(mask: BoolImage, most_px: float) -> BoolImage:
    """The objects of a mask that are no larger."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8))
    is_small = stats[:, cv2.CC_STAT_AREA] <= most_px
    is_small[0] = False
    return is_small[labels] if count > 1 else mask


def _drawn(values: FloatImage, held: BoolImage, most: float, size: tuple[int, int]) -> GreyImage:
    grey = np.clip(_MIDDLE + _MIDDLE * np.where(held, values, 0) / most, 0, 255)
    return cv2.resize(grey.astype(np.uint8), size, interpolation=cv2.INTER_LINEAR)


def _outlines(patch: Patch) -> list[NDArray[np.float64]]:
    found, _ = cv2.findContours(
        patch.mask.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
    )
    return [outline.reshape(-1, 2) + [patch.left, patch.top] for outline in found]
