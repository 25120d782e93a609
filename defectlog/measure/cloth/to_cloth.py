"""Light of a surface to that of its cloth: what is left without its weave."""

from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_pieces
from defectlog.measure.arrays.light import (
    ONE,
    GreyImage,
    RatioImage,
    from_cells,
    inverse_of,
)
from defectlog.measure.arrays.look import Look
from defectlog.measure.cloth.likeness import Likeness
from defectlog.measure.cloth.same_tow import Cloth
from defectlog.measure.cloth.squares import between, to_the_edge
from defectlog.measure.cloth.surface import Surface

# Where too few places say where a gap is, or they were met only nearly, it may be anywhere within
# so much of a pitch.
ASTRAY = 0.12
STRIP_PX = 128


def to_cloth(
    surface: Surface, cloth: Cloth, like: Likeness, look: Look, every: int, pitch: float
) -> tuple[RatioImage, RatioImage]:
    """Light to that of cloth told in squares, and the least of that near, of 4 x 4 pixels one."""
    shape = surface.smooth.shape
    known, nearer = to_the_edge(cloth.cloth), to_the_edge(cloth.nearer)
    astray = from_cells(like.astray, like.cell_px // every, cloth.own.shape, smooth=False)
    astray = to_the_edge(astray if cloth.few is None else astray | cloth.few)
    reach = max(1, round(ASTRAY * pitch))
    smooth = np.empty(shape, np.uint16)
    least = np.empty(tuple(-(-side // 4) for side in shape), np.uint16)

    def spread(strips: list[slice]) -> None:
        for own in strips:
            about = slice(max(own.start - reach, 0), min(own.stop + reach, shape[0]))
            inner = slice(own.start - about.start, own.stop - about.start)
            near = between(known, every, about, shape[1])
            near = _least_near(near, _rows_of(astray, every, about, shape[1]), reach)[inner]
            light = surface.smooth[own]
            if look == "bright":
                light = inverse_of(light)
            lost = _rows_of(like.lost, like.cell_px, own, shape[1])
            if lost is not None:
                darker = cv2.min(light, near)
                cv2.copyTo(cv2.max(darker, 1, dst=darker), lost, dst=near)
            _to_light(light, between(nearer, every, own, shape[1]), near, smooth[own])
            few = near[::4, ::4]
            if lost is not None:
                few[lost[::4, ::4] > 0] = 0
            least[own.start // 4 : -(-own.stop // 4)] = few

    # Strip by strip, for what is worked out on the way would take the memory of many pictures.
    by_pieces(spread, shape[0], piece=STRIP_PX)
    return smooth, least


def lit(cloth: Cloth, like: Likeness, every: int) -> Cloth:
    """Cloth in the light of its folds."""
    shade = from_cells(like.shade, like.every // every, cloth.own.shape, smooth=True)
    shade = np.ascontiguousarray(shade)
    return replace(
        cloth,
        cloth=cv2.multiply(cloth.cloth, shade, scale=1 / ONE),
        nearer=cv2.multiply(cloth.nearer, shade, scale=1 / ONE),
    )


def squares_to_cloth(cloth: Cloth, every: int) -> RatioImage:
    """Light to that of cloth in the middles of squares, as ``to_cloth`` has it there.

    Where cloth is known astray, it may be the darker.
    """
    # Next to the middle it lies so much of the way to the next square.
    darker = cv2.erode(cloth.cloth, np.ones((3, 3), np.uint8))
    near = cv2.addWeighted(cloth.cloth, 1 - 1 / every, darker, 1 / every, 0)
    return _to_light(cloth.own, cloth.nearer, near)


def _least_near(cloth: RatioImage, astray: GreyImage | None, reach: int) -> RatioImage:
    """The least light of cloth beside each pixel; within reach, where it is known astray."""
    near = cv2.erode(cloth, np.ones((3, 3), np.uint8))
    if astray is not None:
        _lessen(near, cloth, astray, reach)
    return near


def _lessen(near: RatioImage, cloth: RatioImage, astray: GreyImage, reach: int) -> None:
    """Where the cloth is known astray, make it the least within reach, in place."""
    x, y, width, height = cv2.boundingRect(astray)
    within = slice(y, y + height), slice(x, x + width)
    top, left = max(y - reach, 0), max(x - reach, 0)
    least = cv2.erode(
        cloth[top : y + height + reach, left : x + width + reach],
        np.ones((2 * reach + 1,) * 2, np.uint8),
    )[y - top :, x - left :][:height, :width]
    cv2.copyTo(least, astray[within], dst=near[within])


def _rows_of(cells: GreyImage, cell_px: int, rows: slice, columns: int) -> GreyImage | None:
    """Some rows of what cells say of a picture, 0 or 1; None if that is 0 all over."""
    near = cells[rows.start // cell_px : -(-rows.stop // cell_px)]
    if not near.any():
        return None
    first = rows.start % cell_px
    shape = first + rows.stop - rows.start, columns
    return from_cells(near, cell_px, shape, smooth=False)[first:]


def _to_light(
    own: RatioImage, nearer: RatioImage, near: RatioImage, out: RatioImage | None = None
) -> RatioImage:
    """Light to that of the cloth, pixel by pixel; in place, if there is one.

    What is darker than all cloth near is told by that; what is not, by how far it is from the
    cloth there, either way: edges of tows that were met only nearly are no noise of the surface.
    """
    light, least = cv2.max(own, nearer), cv2.min(own, nearer)
    is_darker = cv2.compare(own, near, cv2.CMP_LT)
    cv2.copyTo(own, is_darker, dst=light)
    cv2.copyTo(near, is_darker, dst=least)
    cv2.max(least, 1, dst=least)
    return cv2.divide(light, least, dst=out, scale=ONE, dtype=cv2.CV_16U)
