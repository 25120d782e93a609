"""Voids that lie on a fold or in a shadow, told from what they lie on."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import by_halves
from defectlog.measure.arrays.light import ONE, BoolImage, RatioImage, to_cells
from defectlog.measure.arrays.pixels import FloatArray, IndexArray, listed, rows_and_columns
from defectlog.measure.candidates.creases import creases_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging, outline
from defectlog.measure.outlines.zone import Zone, zone_of

# Asked for only where so much of the surface was turned down for fading out.
LEAST_SHARE = 0.003
CELL_MM, LOCAL_MM = 0.25, 2.5
GREY = 100  # grey values that the light of the surface is kept in, for the median
TILE = 32  # cells along the side of what is looked at at a time, if any of it is asked for
# Half of the voids' own contrast, as everywhere; and no less than folds themselves swing by.
HALF, LEAST_DEPTH = 0.5, 0.15


def outlined_on_folds(
    surface: Surface, zone: Zone, rise: outline.Rise, soft: BoolImage, sign: float
) -> BoolImage | None:
    """The outlines of voids on what was turned down as a fold or a shadow.

    Parameters
    ----------
    surface : evenly lit
    zone, rise : of all objects
    soft : (n,) bool, which of them were turned down
    sign : 1.0 for dark voids, -1.0 for bright ones

    Returns
    -------
    (M, N) bool, None if nothing was looked for or found.
    """
    own = slice(0, zone.own)
    height = judging.middle_height(rise.height[~soft], rise.counted[~soft])
    at = zone.at[own][soft[zone.label[own]]]
    seeds = voids_on_folds(surface, at, sign=sign, height=height)
    if seeds is None:
        return None
    again = zone_of(seeds, surface.ratio, surface.inspected, sign=sign, inverse=surface.is_inverse)
    rise = outline.rise_of(again)
    within = outline.outlined(again, rise)
    mask = within.mask
    around = outline.perimeters(mask, within.at, within.label, again.count)
    soft = outline.is_soft(
        outline.edge_width(rise, around), judging.half_width(rise.counted, around)
    )
    mask.ravel()[again.at[(soft | (rise.height < HALF * height))[again.label]]] = False
    return _without_flanks(surface, mask, within, rise.height, sign)


def _without_flanks(
    surface: Surface, mask: BoolImage, within: outline.Outlined, height: FloatArray, sign: float
) -> BoolImage:
    """A mask of outlined objects, of this contrast each, without those that are a side of a crease.

    Sharp creases have flanks as narrow as voids, found piece by piece where weave shows on them.
    """
    known = listed(mask)
    count = known.count
    held = np.flatnonzero(mask.ravel().take(within.at))
    at = within.at[held]
    label = known.runs.of(at).astype(np.int64) - 1
    area = np.bincount(label, minlength=count).astype(np.float64)
    mean = np.bincount(label, height[within.label[held]], count) / area
    around = outline.perimeters(mask, at, label, count)
    creases = creases_of(surface, area, around, sign=sign)
    if creases is not None:
        flank = creases.hold(at, label, area, mean, mask.shape)
        mask.ravel()[at[flank[label]]] = False
    return mask


def voids_on_folds(
    surface: Surface, at: IndexArray, *, sign: float, height: float
) -> BoolImage | None:
    """Pixels of what was turned down that stand out of it as voids do elsewhere.

    Parameters
    ----------
    surface : evenly lit
    at : the pixels that were turned down, in the flattened picture
    sign : 1.0 for dark voids, -1.0 for bright ones
    height : contrast of the voids elsewhere, as a share of light; 0 if there are none

    Returns
    -------
    (M, N) bool, None where there is too little to look at, or nothing to compare with.

    Notes
    -----
    A fold is wider than a void: the median over two and a half millimetres is the fold's own
    light, and a void on it lacks as much of that as one beside it lacks of the surface's.
    """
    if height <= 0 or len(at) < LEAST_SHARE * surface.smooth.size:
        return None
    own = _local_light(surface, at)
    depth = max(HALF * height, LEAST_DEPTH)
    deep = sign * (own - surface.smooth.ravel().take(at)) > depth * own
    if not deep.any():
        return None
    seeds = np.zeros(surface.smooth.shape, dtype=bool)
    seeds.ravel()[at[deep]] = True
    return seeds


def _local_light(surface: Surface, at: IndexArray) -> NDArray[np.float32]:
    """The median light about some pixels of the flattened picture, (n,), in steps of light.

    It is told of cells, tile by tile, and of a surface only once.
    """
    cell = max(1, round(CELL_MM * surface.px_per_mm))
    wide = min(2 * math.ceil(LOCAL_MM / 2 * surface.px_per_mm / cell) + 1, 255)
    shape = tuple(-(-side // cell) for side in surface.smooth.shape)
    local, told = surface.once(
        "local light",
        lambda: (np.empty(shape, np.uint8), np.zeros([-(-side // TILE) for side in shape], bool)),
    )
    row, column = (place // cell for place in rows_and_columns(at, surface.smooth.shape[1]))
    asked = np.zeros_like(told)
    asked[row // TILE, column // TILE] = True
    tiles = np.argwhere(asked & ~told) * TILE

    def tell(part: slice) -> None:
        for top, left in tiles[part].tolist():
            tile = slice(top, top + TILE), slice(left, left + TILE)
            local[tile] = _medians(surface.smooth, tile, cell, wide)

    by_halves(tell, len(tiles), least=2)
    told |= asked
    return local[row, column] * np.float32(ONE / GREY)


def _medians(
    smooth: RatioImage, tile: tuple[slice, slice], cell_px: int, wide: int
) -> NDArray[np.uint8]:
    """The median of so wide a square of cells about each of a tile, in grey values."""
    about = [slice(max(0, side.start - wide // 2), side.stop + wide // 2) for side in tile]
    light = smooth[tuple(slice(side.start * cell_px, side.stop * cell_px) for side in about)]
    light = to_cells(light, cell_px).astype(np.float32)
    cells = np.clip(light * (GREY / ONE), 0, 255).astype(np.uint8)
    own = tuple(
        slice(side.start - wider.start, side.stop - wider.start)
        for side, wider in zip(tile, about, strict=True)
    )
    return cv2.medianBlur(cells, wide)[own]
