"""Glare: surface so brightly lit that nothing can be judged on it."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import begun, by_pieces
from defectlog.measure.arrays.light import (
    DARKEST,
    BoolImage,
    FlatField,
    FloatImage,
    GreyImage,
    bulk_of,
    even_light,
    from_cells,
    to_cells,
)
from defectlog.measure.arrays.quantiles import middle_of, quantiles_of
from defectlog.measure.cloth.sharp_patches import without_sharp

BURNT_OUT = 250  # grey value from which the camera had no more to give
# Where half of the surface is burnt out it is as light as this at least, as the mean of some of
# its rows tells it.
HALF_BURNT_OUT, WHOLLY = 0.45, 0.999
BRIGHT = 1.35  # times the light around it
SPREADS = 2.5
# A glint reaches out to where it adds this share of what makes its middle glare.
FLANK = 0.3
# Round a glint, single tows mirror it still: so far no bright spot can be told from them.
MARGIN_MM = 1.5
MUCH = 0.1  # of a surface
# What glare cuts off is flank on all sides, if it is smaller than this share of the rest.
CUT_OFF = 0.1
# What lies so near to glare may be veiled by it: where it is so much brighter, in log units of
# light, than the even light of all that lies further off, if that is so much of the rest. Voids
# there lack as much less of the light, and what is no darker than cloth is elsewhere is none.
VEIL_MM, VEILED, LEAST_CLEAR, EVEN = 10.0, 0.2, 0.5, (1, 2)
# Beyond this limit cloth swings so far from tow to tow that the even light, which has to bear with
# that, follows a wide glint. Resin that mirrors a window is three times as bright as the bulk of
# the surface and more, and cloth under it swings less than so much of what it does elsewhere:
# light that is added leaves shares of it behind. Dry cloth is less bright, or ends at once.
FOLLOWS, THRICE, SWINGS, SWINGS_MM = 2.0, 3.0, 0.5, 6.0
CELL_ROWS = 16  # that are looked at at a time


def glare_cells(grey: GreyImage, field: FlatField, *, px_per_mm: float) -> BoolImage | None:
    """Find the surface that cannot be judged.

    Parameters
    ----------
    grey : (M, N) uint8
    field : the light on the surface; the region is where its weight is above 0
    px_per_mm : of the picture, roughly

    Returns
    -------
    (rows, columns) bool, which cells of the light lie in glare; None if none do

    Notes
    -----
    Glare is light, averaged over 2 mm, well above the light around it and fading out
    softly, or burnt out. A pale patch with a sharp edge is not glare: that is how dry
    fibre looks. On cloth whose tows differ much it is far brighter than the bulk of the
    surface, and hardly swings.
    """
    held = field.weight > 0.25
    if not held.any():
        return None
    brightest = begun(lambda: cv2.minMaxLoc(grey)[1])
    wide = max(1, round(2 * px_per_mm / field.cell_px))
    ratio = np.where(held, field.ratio, np.float32(1))
    mean = cv2.blur(ratio, (wide, wide))
    low, high = quantiles_of(field.ratio[held], 0.1, 0.9)
    limit = max(BRIGHT, 1 + SPREADS * float(high - low))
    bright = held & (mean > limit)
    bright = without_sharp(bright, mean, limit, cell_mm=field.cell_px / px_per_mm)
    if limit > FOLLOWS:
        veiled, lit = _veiled(field, held, wide, cell_mm=field.cell_px / px_per_mm)
        if veiled.any():
            bright |= veiled
            ratio = np.maximum(ratio, lit)
    if brightest() >= BURNT_OUT:
        burnt = _burnt_out(grey, field.cell_px, _may_be_burnt_out(field, held, wide))
        burnt = held & (cv2.blur(burnt, (wide, wide)) > 127)
        bright |= burnt
    if not bright.any():
        return None
    broad = cv2.blur(ratio, (2 * wide + 1, 2 * wide + 1))
    bright = with_flanks(bright, held & (broad > 1 + FLANK * (limit - 1)), steps=4 * wide)
    bright = _with_veil(field, held, bright, wide)
    margin = 2 * round(MARGIN_MM * px_per_mm / field.cell_px) + 1
    bright = cv2.dilate(bright, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (margin, margin)))
    bright |= _cut_off(held, bright)
    return bright.view(np.bool_)


def _may_be_burnt_out(field: FlatField, held: BoolImage, wide: int) -> BoolImage:
    """Which rows of cells lie within ``wide`` of some that are light enough to be burnt out."""
    own = field.light * field.ratio
    # Of what lies outside the region the light is not known. Beyond the picture there is none.
    own[:-1, :-1][field.weight[:-1, :-1] < WHOLLY] = 1
    light = held & (cv2.blur(own, (wide, wide)) > HALF_BURNT_OUT)
    rows = light.any(axis=1, keepdims=True).astype(np.uint8)
    return cv2.dilate(rows, np.ones((2 * wide + 1, 1), np.uint8)).ravel() > 0


def _burnt_out(grey: GreyImage, cell_px: int, where: BoolImage) -> NDArray[np.uint8]:
    """How much of each cell is burnt out, 255 being all of it; in some of their rows at least."""
    rows, columns = (-(-side // cell_px) for side in grey.shape)
    burnt = np.zeros((rows, columns), np.uint8)

    def look(parts: list[slice]) -> None:
        for part in parts:
            if not where[part].any():
                continue
            own = grey[part.start * cell_px : part.stop * cell_px]
            burnt[part] = to_cells(cv2.compare(own, BURNT_OUT - 0.5, cv2.CMP_GT), cell_px)

    by_pieces(look, rows, piece=CELL_ROWS)
    return burnt


def _with_veil(
    field: FlatField, held: BoolImage, glare: NDArray[np.uint8], wide: int
) -> NDArray[np.uint8]:
    """Glare with what it veils about it: brighter than the light of the rest is there.

    ``wide`` is the cells along 2 mm.
    """
    near = round(VEIL_MM / 2 * wide)
    clear = held & (cv2.dilate(glare, np.ones((2 * near + 1,) * 2, np.uint8)) == 0)
    if np.count_nonzero(clear) < LEAST_CLEAR * np.count_nonzero(held & (glare == 0)):
        return glare
    own = np.where(held, field.light * field.ratio, np.float32(0))
    averaged = _averaged(own, held, wide)
    lit = averaged - bulk_of(averaged, clear, EVEN)
    return with_flanks(glare, held & (lit > VEILED), steps=near)


def _averaged(own: FloatImage, held: BoolImage, wide: int) -> FloatImage:
    """The light of cells, 0 where they are not held, over 4 mm of those that are, in log units."""
    size = (2 * wide + 1,) * 2
    share = np.maximum(cv2.blur(held.astype(np.float32), size), np.float32(0.02))
    return np.log(np.maximum(cv2.blur(own, size) / share, DARKEST))


def _veiled(
    field: FlatField, held: BoolImage, wide: int, *, cell_mm: float
) -> tuple[BoolImage, FloatImage]:
    """Cells that a wide glint veils, and the light of all of them to that of the bulk.

    ``wide`` is the cells along 2 mm.
    """
    own = np.where(held, field.light * field.ratio, np.float32(0))
    averaged = _averaged(own, held, wide)
    bulk = np.exp(np.where(held, bulk_of(averaged, held), 0))  # outside it may run off
    lit = np.where(held, own / bulk, np.float32(1))
    mean = cv2.blur(lit, (wide, wide))
    veiled = held & (mean > THRICE)
    if veiled.any():
        about = 2 * round(SWINGS_MM / 2 / cell_mm) + 1
        middle, square = (cv2.blur(one, (about, about)) for one in (lit, lit * lit))
        swing = np.sqrt(np.maximum(square - middle * middle, 0)) / middle
        veiled &= swing < SWINGS * middle_of(swing[held])
    return without_sharp(veiled, mean, THRICE, cell_mm=cell_mm), lit


def without_glare(
    grey: GreyImage, field: FlatField, px_per_mm: float, sigma_px: float
) -> tuple[FlatField, BoolImage | None]:
    """The even light by what is no glare, and where there is glare.

    Parameters
    ----------
    grey : (M, N) uint8
    field : the even light by all there is
    px_per_mm : of the picture, roughly
    sigma_px : of the Gaussian that smooths the light

    Returns
    -------
    field, glare : (M, N) bool, None if there is none

    Notes
    -----
    Glare bends the even light towards itself; much of it so far that a part of it seems to be
    none, and a dark corner to be glare. It is then told once more by the light without it.
    """
    cells = glare_cells(grey, field, px_per_mm=px_per_mm)
    if cells is None:
        return field, None
    own, weight = field.light * field.ratio, field.weight
    field = _by_clear(field, own, weight, cells, sigma_px)
    left, held = (np.count_nonzero(share > 0.25) for share in (field.weight, weight))
    if left < (1 - MUCH) * held:
        told_anew = replace(field, ratio=own / field.light, weight=weight)
        again = glare_cells(grey, told_anew, px_per_mm=px_per_mm)
        if again is not None:
            cells, field = again, _by_clear(field, own, weight, again, sigma_px)
    return field, from_cells(cells, field.cell_px, grey.shape, smooth=False)


def _by_clear(
    field: FlatField, own: FloatImage, weight: FloatImage, glare: BoolImage, sigma_px: float
) -> FlatField:
    """The even light by the cells that have no glare, if there are any."""
    clear = weight * ~glare
    if not (clear > 0.25).any():
        return field
    return even_light(own * clear, clear, field.cell_px, sigma_px)


def with_flanks(core: BoolImage, flank: BoolImage, *, steps: int) -> NDArray[np.uint8]:
    """Let glare spread cell by cell over its flanks, a limited number of steps."""
    square = np.ones((3, 3), np.uint8)
    spread = cv2.dilate(core.astype(np.uint8), square)
    allowed = (flank | (spread > 0)).astype(np.uint8)
    for _ in range(steps):
        spread = cv2.dilate(spread, square) & allowed
    return spread


def _cut_off(held: BoolImage, glare: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Small pieces of surface that glare leaves, between itself and the edge of the picture."""
    clear = (held & (glare == 0)).view(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(clear, connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA]
    small = area < CUT_OFF * area[1:].max(initial=0)
    small[0] = False
    if not small.any():
        return np.zeros_like(glare)
    beside = np.zeros_like(small)
    beside[labels[cv2.dilate(glare, np.ones((3, 3), np.uint8)) > 0]] = True
    return (beside & small)[labels].view(np.uint8)
