"""Cloth in cells: how far its tone and its swing lie off what they are round about."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.arrays.halves import both, in_two
from defectlog.measure.arrays.light import (
    ONE,
    BoolImage,
    FlatField,
    FloatImage,
    even_light,
    from_cells,
    to_cells,
)
from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.surface import Surface

SAMPLED = 3  # pixels that are looked at along a fine cell of more
TOWS_MM = 2.0  # deviation of the Gaussian that averages over tows
OUTLINE_MM = 1.5  # and of the one outlines are drawn on
LIGHT_MM = 18.0
# Where tows still show in what outlines are drawn on, these follow them: a step by so many
# times what shows, beyond what hardly any cloth is without, is the tows' own.
TOWS_STEP, TOWS_HARDLY = 8.0, 0.015


@dataclass(frozen=True, slots=True)
class ClothMap:
    """One way in which cloth can differ, in cells: all relative to the surface around.

    ``wide`` is averaged over tows, ``near`` over less, for outlines, ``own`` as it is;
    ``tows_step`` is the step across an outline that single tows in ``near`` can make up.
    """

    wide: FloatImage
    near: FloatImage
    own: FloatImage
    spread: float
    tows_step: float


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of the maps, ``mm`` along a side.

    Of those ``inspected`` enough of the surface can be seen; those ``held`` show enough of the
    cloth besides: the rest of them is void. ``grain`` is how far finer cells, ``times`` along each
    of these, are off the tone that ``ClothMap.near`` has there; 0 where they are void.
    """

    held: BoolImage
    inspected: BoolImage
    mm: float
    grain: FloatImage
    times: int


def cloth_maps(
    surface: Surface, voids: BoolImage, fine_px: int, times: int
) -> tuple[ClothMap, ClothMap, Cells]:
    """Tone and swing of the surface without what is void, and the cells they are in."""
    # A large picture is looked at pixel by pixel only as far as its cells need; what is worked on
    # of it is put side by side first.
    step = max(1, fine_px // SAMPLED)
    some = (slice(None, None, step), slice(None, None, step))
    clear = ~voids[some] if surface.is_whole else surface.inspected[some] & ~voids[some]
    seen, light = both(
        lambda: to_cells(clear.view(np.uint8) * np.uint8(255), fine_px // step),
        lambda: to_cells(surface.ratio[some].copy() * clear, fine_px // step).astype(np.float32),
    )
    seen = seen.astype(np.float32) / 255
    light /= np.maximum(seen, np.float32(0.02)) * ONE
    # The even light has bent towards a wide patch: it is taken back, to be judged anew.
    bent = _stretched(surface.field, fine_px, light.shape)
    held = seen > 0.5
    fine = np.where(held, np.log(np.maximum(light * bent, np.float32(1e-4))), np.float32(0))
    fine_mm = fine_px / surface.px_per_mm
    cell_mm = fine_mm * times
    share = to_cells(held.astype(np.float32), times)
    coarse_held = share > 0.5
    coarse = to_cells(fine, times) / np.maximum(share, np.float32(0.02))
    coarse = np.where(coarse_held, coarse, np.float32(0))
    near = averaged(coarse, coarse_held, OUTLINE_MM / cell_mm)
    around = from_cells(near, times, fine.shape, smooth=True)
    grain = np.where(held, fine - around, np.float32(0))
    swung = to_cells(grain * grain, times) / np.maximum(share, np.float32(0.02))
    wide = averaged(coarse, coarse_held, TOWS_MM / cell_mm)
    wide_swing = _log_root(averaged(swung, coarse_held, TOWS_MM / cell_mm))
    near_swing = _log_root(averaged(swung, coarse_held, 1.0 / cell_mm))
    tone, swing = in_two(
        lambda one: _relative(*one, coarse_held, cell_mm),
        (wide, near, coarse),
        (wide_swing, near_swing, near_swing),
    )
    if surface.is_whole:
        inspected = np.ones_like(coarse_held)
    else:
        open_to_view = surface.inspected[some].view(np.uint8) * np.uint8(255)
        inspected = to_cells(to_cells(open_to_view, fine_px // step), times) > 127
    return tone, swing, Cells(coarse_held, inspected, cell_mm, grain, times)


def _stretched(field: FlatField, cell_px: int, shape: tuple[int, int]) -> FloatImage:
    """The even light at the middles of smaller cells, interpolated."""
    times = cell_px / field.cell_px
    first = times / 2 - 0.5
    return cv2.warpAffine(
        field.light,
        np.array([[times, 0, first], [0, times, first]]),
        shape[::-1],
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )


def _log_root(squares: FloatImage) -> FloatImage:
    return 0.5 * np.log(np.maximum(squares, np.float32(1e-6)))


def averaged(values: FloatImage, held: BoolImage, sigma: float) -> FloatImage:
    """Gaussian average over the cells held."""
    total = cv2.GaussianBlur(np.where(held, values, np.float32(0)), (0, 0), max(sigma, 0.3))
    if held.all():
        return total
    share = cv2.GaussianBlur(held.astype(np.float32), (0, 0), max(sigma, 0.3))
    return total / np.maximum(share, np.float32(0.02))


def _relative(
    wide: FloatImage, near: FloatImage, own: FloatImage, held: BoolImage, cell_mm: float
) -> ClothMap:
    """All three relative to what the average is round about, patches left out."""
    if not held.any():  # of a strip narrower than the cells
        return ClothMap(wide, near, own, 1.0, 0.0)
    weight = held.astype(np.float32)
    field = even_light(np.exp(wide) * weight, weight, 1, LIGHT_MM / cell_mm)
    around = np.log(field.light)
    wide = wide - around
    middle = middle_of(wide[held])
    around += middle
    wide = wide - middle
    spread = 1.4826 * float(middle_of(np.abs(wide[held])))
    near = near - around
    tows = 1.4826 * float(middle_of(np.abs((near - wide)[held])))
    tows_step = TOWS_STEP * max(0.0, tows - TOWS_HARDLY)
    return ClothMap(wide, near, own - around, max(spread, 1e-3), tows_step)
