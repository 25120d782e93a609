"""How far a cloth can be told by its own tows, and what it is like beside that."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import begun, by_pieces, for_each
from defectlog.measure.arrays.light import (
    ONE,
    BoolImage,
    FloatImage,
    GreyImage,
    RatioImage,
    from_cells,
    halved,
    log_of,
    to_cells,
)
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.quantiles import middle_of, middle_of_steps
from defectlog.measure.cloth.same_tow import Cloth
from defectlog.measure.cloth.squares import in_middles, to_the_edge
from defectlog.measure.cloth.surface import Surface

# So many pixels of each pitch, along a side, say enough about all of them.
SAMPLES = 8
LEAST_TOLD, SAMPLED = 1000, 3
ROWS = 32  # at half the size, told at a time: what is worked out on the way stays in the cache
# What is left of light over some millimetres, in log units, is the shading of folds and the flank
# of glints; more than this is not of them.
# Beside glare, which has bent the light of all that is about it, it is more and wider.
FOLDS, GLARE = (2.5, 0.3), (8.0, 1.2)
# Edges that stand out so many times as far as usual were met only nearly; further still the way
# along the tows was lost, there and so many halves of a pitch about.
ASTRAY_TIMES, ASTRAY_LEAST = 3.0, 0.03
LOST_TIMES, LOST_CELLS = 6.0, 7


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """What a cloth told by its own tows is like, for voids of one look.

    ``left`` is the spread of the surface's light to that of the cloth, in log units. ``shade`` is
    the light that folds and glints give the cloth, in squares of ``every`` pixels; ``astray`` and
    ``lost`` where edges were met only nearly, and where the way along the tows was lost, in cells
    of ``cell_px``.
    """

    left: float
    shade: RatioImage
    every: int
    astray: GreyImage
    lost: GreyImage
    cell_px: int


def likeness(
    surface: Surface, cloths: dict[Look, Cloth], *, pitch: float, every: int
) -> dict[Look, Likeness]:
    """How far a cloth is told by its own tows, for voids of some looks; none where too few say so.

    Parameters
    ----------
    surface : evenly lit
    cloths : for each look, in squares of ``every`` pixels
    pitch : from one tow to the next, in pixels
    """
    inspected = in_middles(surface.inspected, every)
    step = max(1, int(pitch / SAMPLES / every))
    cell = max(1, round(pitch / 2 / (every * step)))

    few = (slice(None, None, step),) * 2
    told = for_each(
        lambda look: _told_of(cloths[look].at(few), inspected[few], surface, every * step, cell),
        cloths,
    )
    return {look: like for look, like in told.items() if like is not None}


def _told_of(
    cloth: Cloth, inspected: BoolImage, surface: Surface, every: int, cell: int
) -> Likeness | None:
    """What cloth is like by pixels that are so many apart, in cells of so many of these."""
    some = (slice(None, None, SAMPLED),) * 2
    sure = inspected[some] if cloth.few is None else inspected[some] & (cloth.few[some] == 0)
    if np.count_nonzero(sure) < LEAST_TOLD:
        return None
    rest_of = begun(lambda: log_of(cloth.own[some][sure]) - log_of(cloth.cloth[some][sure]))
    px_per_mm = surface.px_per_mm / every
    nearer, shade = cloth.nearer, None
    if surface.is_glared:
        shade = _as_light(_folds(cloth.own, nearer, px_per_mm, *GLARE), 0.0, nearer.shape)
        nearer = cv2.multiply(nearer, shade, scale=1 / ONE)
    folds = _folds(cloth.own, nearer, px_per_mm, *FOLDS)
    rest = rest_of()
    middle, left = middle_and_spread(rest)
    # Voids darken all of it a little.
    folds = _as_light(folds, middle, nearer.shape)
    nearer = cv2.multiply(nearer, folds, scale=1 / ONE)
    times = _times_astray(cloth.own, nearer, cell)
    lost = cv2.dilate((times > LOST_TIMES).view(np.uint8), np.ones((LOST_CELLS,) * 2, np.uint8))
    shade = folds if shade is None else cv2.multiply(shade, folds, scale=1 / ONE)
    if surface.is_glared:
        # Light that was added to cloth and is known is no weave that is left.
        left = middle_and_spread(rest - log_of(shade[some][sure]))[1]
    return Likeness(
        left=left,
        shade=to_the_edge(shade),
        every=every,
        astray=to_the_edge((times > ASTRAY_TIMES).view(np.uint8)),
        lost=to_the_edge(lost),
        cell_px=cell * every,
    )


def _folds(
    own: RatioImage, cloth: RatioImage, px_per_mm: float, wide_mm: float, most: float
) -> FloatImage:
    """Light that folds and glints give cloth, in log units, at half the size; mostly none.

    Over so many millimetres, and no further off than so much, they are folds and glints.
    """
    steps = np.float32(120 / most)
    greys = np.empty(tuple(-(-side // 2) for side in own.shape), np.uint8)

    def tell(parts: list[slice]) -> None:
        for part in parts:
            rows = slice(2 * part.start, 2 * part.stop)
            left = log_of(own[rows])
            left -= log_of(cloth[rows])
            left *= np.abs(left) <= most
            # Told at half the size: folds are wider than tows. In whole steps, from 128 on.
            left = halved(left)
            greys[part] = cv2.addWeighted(left, float(steps), left, 0, 128, dtype=cv2.CV_8U)

    by_pieces(tell, len(greys), piece=ROWS)
    wide = min(2 * round(wide_mm / 4 * px_per_mm) + 1, 255)
    greys = cv2.medianBlur(greys, wide)
    folds = (greys - np.float32(middle_of_steps(greys.ravel()))) / steps
    return cv2.GaussianBlur(folds, (0, 0), wide / 6)


def _as_light(folds: FloatImage, usual: float, shape: tuple[int, int]) -> RatioImage:
    """The light of folds at twice the size, with what is usual of it, in log units."""
    shade = ONE * np.exp(folds + np.float32(usual))
    whole = from_cells(shade.astype(np.uint16), 2, shape, smooth=True)
    return np.ascontiguousarray(whole)


def _times_astray(own: RatioImage, cloth: RatioImage, cell: int) -> FloatImage:
    """By how much more than usual there is brighter than cloth: tows where there should be gaps.

    In cells of so many pixels.
    """
    brighter = cv2.subtract(cv2.min(own, 2 * ONE), cv2.min(cloth, 2 * ONE))
    excess = cv2.blur(to_cells(brighter, cell).astype(np.float32), (3, 3))
    return excess / max(float(middle_of(excess.ravel())), ASTRAY_LEAST * ONE / ASTRAY_TIMES)


def middle_and_spread(values: NDArray[np.float32]) -> tuple[float, float]:
    """The median, and the deviation as the median one tells it."""
    middle = middle_of(values)
    return float(middle), 1.4826 * float(middle_of(np.abs(values - middle)))
