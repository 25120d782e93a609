"""The surface of a picture, ready to be judged: linear, evenly lit, glare left out."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import Any, TypeVar

import cv2
import numpy as np

from defectlog.errors import DefectlogError
from defectlog.measure.arrays.halves import begun
from defectlog.measure.arrays.light import (
    GAMMA,
    BoolImage,
    FlatField,
    GreyImage,
    RatioImage,
    as_ratio,
    even_light,
    inverse_of,
)
from defectlog.measure.arrays.masks import but_not
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.arrays.quantiles import middle_of_steps
from defectlog.measure.arrays.threshold import ASTRAY
from defectlog.measure.cloth.following import Places
from defectlog.measure.cloth.glare import without_glare
from defectlog.measure.cloth.guessed_scale import guessed_px_per_mm
from defectlog.measure.cloth.small_cloth import LARGE_PX
from defectlog.measure.cloth.strips import Strips, grain_of
from defectlog.measure.cloth.weave import Recurrence, Vector, recurrence, repeats_of

Told = TypeVar("Told")

LEAST_SURFACE_PX = 2500
LARGEST_WORKED_PX = 50_000_000
MOST_GLARE = 0.01  # of a surface, before it bends the light of the rest
SAMPLED = 17  # of so many pixels one along a side: odd, as blocks of JPEG are even
LEAST_CONTRAST = 3  # in grey values
LIGHT_MM = 5.0


class NothingInspectedError(DefectlogError):
    """The region holds too little surface to measure."""

    def __init__(self, inspected_px: int) -> None:
        self.inspected_px = inspected_px
        super().__init__(
            f"Only {inspected_px} pixels of surface are left to inspect",
            "draw a larger region, or take the photo again closer and with less glare",
        )


class NoContrastError(DefectlogError):
    """The picture is of one colour: nothing can be told on it."""

    def __init__(self) -> None:
        super().__init__(
            "The region is all one shade, so there is no contrast to measure voids by",
            "check that the photo is sharp and neither black nor burnt out, and take it again",
        )


@dataclass(frozen=True, slots=True)
class Surface:
    """The surface of a picture, evenly lit, at the size it is worked on.

    ``recurs`` hangs on ``ratio`` and ``inspected``: whoever replaces these replaces it as well, by
    ``recurs_of``, if the weave is asked for after that.
    """

    ratio: RatioImage  # light relative to the even light
    smooth: RatioImage  # the same, noise evened out for finding
    inspected: BoolImage
    inspected_px: int
    px_per_mm: float  # guessed, where there is no scale
    region_px: int
    shrink: int  # pixels of the picture along the side of a worked one
    grey_step: float  # of the picture's values, in log units of light
    field: FlatField  # the even light itself
    recurs: Callable[[], Recurrence | None]  # how alike ``ratio`` is to itself when moved
    expected: RatioImage | None = None  # the cloth's own light, at half the size, if it is known
    least: RatioImage | None = None  # the least of it near, of 4 x 4 pixels one; 0 where it is lost
    places: Places | None = None  # that tell it
    astray: float = ASTRAY  # how far edges of tows stand out where the cloth is known astray
    glare: BoolImage | None = None  # where there is glare, if there is any
    is_inverse: bool = False  # whether all but ``ratio`` is told as the inverse of light
    noise: float = 0.0  # deviation of single pixels of ``ratio``, as a share of the light
    evened_px: float = 0.0  # blur by which noise was evened out of ``ratio`` for outlines
    # What was told of ``smooth``: once that is another one, all is told anew.
    _told: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def is_large(self) -> bool:
        """Whether it is so large that less of it says as much."""
        return self.smooth.size >= LARGE_PX

    @property
    def is_whole(self) -> bool:
        """Whether all of the picture is inspected."""
        return self.inspected_px == self.inspected.size

    @property
    def is_glared(self) -> bool:
        """Whether there is so much glare that it bends the light of all that is about it."""
        return self.not_inspected > MOST_GLARE

    def once(self, what: Hashable, tell: Callable[[], Told]) -> Told:
        """What is told of ``smooth``, worked out when it is first asked for by this name."""
        if what not in self._told:
            self._told[what] = tell()
        return self._told[what]

    def light_at(self, at: IndexArray) -> RatioImage:
        """``ratio`` at pixels of the flattened picture, inverse where the rest is."""
        light = self.ratio.ravel().take(at)
        return inverse_of(light.ravel()).reshape(at.shape) if self.is_inverse else light

    def within(self, where: BoolImage) -> "Surface":
        """The same, inspected only there, (M, N) bool."""
        inspected = self.inspected & where
        inspected_px = int(np.count_nonzero(inspected))
        recurs = recurs_of(self.ratio, inspected, self.px_per_mm)
        return self.changed(inspected=inspected, inspected_px=inspected_px, recurs=recurs)

    def changed(self, **others: Any) -> "Surface":
        """The same with others of its fields: ``smooth`` is as it was, what it told stays told."""
        surface = replace(self, **others)
        surface._told.update(self._told)
        return surface

    def part(self, rows: slice, columns: slice) -> "Surface":
        """Some rows and columns of it, as they lie in the even light of all, without its cloth."""
        return self._only((rows, columns), self.px_per_mm)

    def sampled(self, step: int) -> "Surface":
        """One in so many of its pixels along either side: for its light, not for outlines."""
        return self._only((slice(None, None, step),) * 2, self.px_per_mm / step)

    def _only(self, where: tuple[slice, slice], px_per_mm: float) -> "Surface":
        """Some of its pixels side by side, at the scale they then have."""
        ratio, smooth, inspected, glare = (
            None if one is None else np.ascontiguousarray(one[where])
            for one in (self.ratio, self.smooth, self.inspected, self.glare)
        )
        inspected_px = int(np.count_nonzero(inspected))
        return replace(
            self,
            ratio=ratio,
            smooth=smooth,
            inspected=inspected,
            inspected_px=inspected_px,
            px_per_mm=px_per_mm,
            region_px=max(round(inspected_px / (1 - self.not_inspected)), 1),  # as glared as all
            recurs=recurs_of(ratio, inspected, px_per_mm),
            expected=None,
            least=None,
            places=None,
            glare=glare,
        )

    def weave(self) -> list[Vector]:
        """The strongest repeats of its weave, in pixels, strongest first."""
        return repeats_of(self.recurs())

    @property
    def not_inspected(self) -> float:
        """The share of the region that is not inspected."""
        return 1 - self.inspected_px / self.region_px


def prepare(grey: GreyImage, inside: BoolImage, px_per_mm: float | None) -> Surface:
    """Make light linear and even, and leave out what cannot be judged.

    Parameters
    ----------
    grey : (M, N) uint8
    inside : (M, N) bool, the region without scale cards
    px_per_mm : of the picture, if known

    Returns
    -------
    Surface
        Worked on at half size above 50 million pixels.

    Raises
    ------
    NoContrastError
        If the region is all of one shade.
    NothingInspectedError
        If less than 2500 pixels of surface are left.
    """
    region_px = int(np.count_nonzero(inside))
    _need_contrast(grey, inside, region_px)
    shrink = 2 if grey.size > LARGEST_WORKED_PX else 1
    whole_grey = grey
    if shrink > 1:
        size = (grey.shape[1] // shrink, grey.shape[0] // shrink)
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
        inside = cv2.resize(inside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
        region_px = int(np.count_nonzero(inside))
    nominal = guessed_px_per_mm(grey, inside) if px_per_mm is None else px_per_mm / shrink
    # Cells of a millimetre, but never so many that their smoothing takes longer than the
    # picture, nor so few that light cannot bend.
    cell = int(np.clip(round(nominal), max(2, max(grey.shape) // 400), 64))
    sigma = float(np.clip(LIGHT_MM * nominal, 12.0, 0.2 * max(grey.shape)))
    held = None if region_px == inside.size else inside
    strips = Strips(whole_grey, grey.shape, shrink, cell)
    light, weight = strips.cells(held)
    field = even_light(light, weight, cell, sigma)
    field, glare = without_glare(grey, field, nominal, sigma)
    inspected = inside if glare is None else but_not(inside, glare)
    left = region_px if glare is None else int(np.count_nonzero(inspected))
    if left * shrink**2 < LEAST_SURFACE_PX:
        raise NothingInspectedError(left * shrink**2)
    typical = begun(partial(_typical_grey, grey, inspected))
    ratio, smooth = strips.evened(field, None if left == inspected.size else inspected)
    return Surface(
        ratio=ratio,
        smooth=smooth,
        inspected=inspected,
        inspected_px=left,
        px_per_mm=nominal,
        region_px=region_px,
        shrink=shrink,
        # The rounding error of one grey step has a deviation of 1 / sqrt(12) of it.
        grey_step=GAMMA / max(typical(), 4.0) / 12**0.5,
        field=field,
        recurs=recurs_of(ratio, inspected, nominal),
        glare=glare,
        noise=_noise(ratio, smooth, inspected),
    )


def _typical_grey(grey: GreyImage, inspected: BoolImage) -> float:
    """The middle grey of what is inspected, by a few of its pixels if these are any."""
    for step in (7, 1):
        few = grey[::step, ::step][inspected[::step, ::step]]
        if len(few):
            break
    return middle_of_steps(few)


def recurs_of(
    ratio: RatioImage, inspected: BoolImage, px_per_mm: float
) -> Callable[[], Recurrence | None]:
    """How alike light is to itself when moved, told when it is first asked for.

    Parameters
    ----------
    ratio : (M, N) light relative to the even light of the surface
    inspected : (M, N) bool
    px_per_mm : of the picture, roughly
    """
    return cache(partial(recurrence, ratio, inspected, px_per_mm=px_per_mm))


def _noise(light: RatioImage, calm: RatioImage, inspected: BoolImage) -> float:
    """Deviation of the noise of single pixels where it is inspected, as a share of the light."""
    some = (slice(None, None, SAMPLED),) * 2
    which = inspected[some]
    if not which.any():
        return 0.0
    return grain_of(as_ratio(light[some][which]), as_ratio(calm[some][which]))


def _need_contrast(grey: GreyImage, inside: BoolImage, inside_px: int) -> None:
    if inside_px < LEAST_SURFACE_PX:
        raise NothingInspectedError(inside_px)
    for some in (slice(None, None, SAMPLED), slice(None)):  # a few mostly show it
        low, high, *_ = cv2.minMaxLoc(grey[some, some], inside[some, some].view(np.uint8))
        if high - low >= LEAST_CONTRAST:
            return
    raise NoContrastError
