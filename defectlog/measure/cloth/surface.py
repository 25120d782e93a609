"""The surface of a picture, ready to be judged: linear, evenly lit, glare left out."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial

import cv2
import numpy as np

from defectlog.errors import DefectlogError
from defectlog.measure.arrays.halves import begun, in_two
from defectlog.measure.arrays.light import (
    GAMMA,
    ONE,
    BoolImage,
    FlatField,
    FloatImage,
    GreyImage,
    RatioImage,
    as_ratio,
    even_light,
    inverse_of,
    linear_light,
    rows_of_cells,
    to_cells,
)
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.arrays.quantiles import middle_of, middle_of_steps
from defectlog.measure.arrays.threshold import ASTRAY
from defectlog.measure.cloth.following import Places
from defectlog.measure.cloth.glare import without_glare
from defectlog.measure.cloth.guessed_scale import guessed_px_per_mm
from defectlog.measure.cloth.small_cloth import LARGE_PX
from defectlog.measure.cloth.weave import Recurrence, Vector, recurrence, repeats_of

LEAST_SURFACE_PX = 2500
LARGEST_WORKED_PX = 50_000_000
STRIP_PX = 128
HALO_PX, GRAINY_HALO_PX = 2, 8  # what smoothing looks at beyond a strip
MOST_GLARE = 0.01  # of a surface, before it bends the light of the rest
CELL_ROWS = 6  # are enough to tell the light of a cell by
# From this noise of single pixels on, as a share of the light, a picture is smoothed first.
GRAINY = 0.07
GRAIN_BLUR_PX = 0.6
FINDING_BLUR_PX = 0.8
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
    """The surface of a picture, evenly lit, at the size it is worked on."""

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

    def light_at(self, at: IndexArray) -> RatioImage:
        """``ratio`` at pixels of the flattened picture, inverse where the rest is."""
        light = self.ratio.ravel().take(at)
        return inverse_of(light.ravel()).reshape(at.shape) if self.is_inverse else light

    def within(self, where: BoolImage) -> "Surface":
        """The same, inspected only there, (M, N) bool."""
        inspected = self.inspected & where
        inspected_px = int(np.count_nonzero(inspected))
        recurs = recurs_of(self.ratio, inspected, self.px_per_mm)
        return replace(self, inspected=inspected, inspected_px=inspected_px, recurs=recurs)

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
    cell = int(np.clip(round(nominal), max(2, max(grey.shape) // 600), 64))
    sigma = float(np.clip(LIGHT_MM * nominal, 12.0, 0.2 * max(grey.shape)))
    held = None if region_px == inside.size else inside
    strips = _Strips(whole_grey, grey.shape, shrink, cell)
    light, weight = strips.cells(held)
    field = even_light(light, weight, cell, sigma)
    field, glare = without_glare(grey, field, nominal, sigma)
    inspected = inside if glare is None else inside & ~glare
    left = region_px if glare is None else int(np.count_nonzero(inspected))
    if left * shrink**2 < LEAST_SURFACE_PX:
        raise NothingInspectedError(left * shrink**2)
    typical = begun(lambda: max(middle_of_steps(grey[::7, ::7][inspected[::7, ::7]]), 4.0))
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
        grey_step=GAMMA / typical() / 12**0.5,
        field=field,
        recurs=recurs_of(ratio, inspected, nominal),
        glare=glare,
        noise=_noise(ratio, smooth, inspected),
    )


def recurs_of(
    ratio: RatioImage, inspected: BoolImage, px_per_mm: float
) -> Callable[[], Recurrence | None]:
    """How alike light is to itself when moved, told when it is first asked for."""
    return cache(partial(recurrence, ratio, inspected, px_per_mm=px_per_mm))


def _noise(light: RatioImage, calm: RatioImage, inspected: BoolImage) -> float:
    """Deviation of the noise of single pixels where it is inspected, as a share of the light."""
    some = (slice(None, None, SAMPLED),) * 2
    which = inspected[some]
    if not which.any():
        return 0.0
    return _grain(as_ratio(light[some][which]), as_ratio(calm[some][which]))


def _grain(even: FloatImage, calm: FloatImage) -> float:
    """Deviation of the noise of single pixels, as a share of the light."""
    rest = middle_of(np.abs(even - calm).ravel())
    # Smoothing takes a fifth of the noise's deviation away with itself.
    return 1.4826 * float(rest) / 0.8


@dataclass(frozen=True, slots=True)
class _Strips:
    """A picture's light, strip by strip: as a whole it would take four times its grey values.

    Strips are whole rows of cells, so that what is worked out in them has no seams.
    """

    grey: GreyImage
    shape: tuple[int, int]  # as worked on
    shrink: int
    cell_px: int

    def _bounds(self) -> list[tuple[int, int]]:
        high = max(1, STRIP_PX // self.cell_px) * self.cell_px
        return [(top, min(top + high, self.shape[0])) for top in range(0, self.shape[0], high)]

    def _rows_apart(self) -> int:
        """Of how many rows one is looked at for cells, which have to have whole ones."""
        if self.shrink > 1:
            return 1
        steps = range(1, self.cell_px // CELL_ROWS + 1)
        return max((step for step in steps if self.cell_px % step == 0), default=1)

    def _light(self, top: int, end: int, step: int = 1) -> FloatImage:
        k = self.shrink
        light = linear_light(self.grey[top * k : end * k : step])
        if k > 1:
            size = (self.shape[1], end - top)
            light = cv2.resize(light[:, : size[0] * k], size, interpolation=cv2.INTER_AREA)
        return light

    def cells(self, inside: BoolImage | None) -> tuple[FloatImage, FloatImage]:
        """Mean light of each cell, zero outside, and the share of it that is inside."""

        step = self._rows_apart()
        size = (self.cell_px, self.cell_px // step)

        @cache
        def whole(rows: int) -> FloatImage:
            return to_cells(np.ones((rows, self.shape[1]), np.float32), *size)

        def averaged(bounds: list[tuple[int, int]]) -> list[tuple[FloatImage, FloatImage]]:
            cells = []
            for top, end in bounds:
                strip = self._light(top, end, step)
                if inside is None:
                    weight = whole(len(strip))
                else:
                    within = inside[top:end:step].astype(np.float32)
                    strip = cv2.multiply(strip, within)
                    weight = to_cells(within, *size)
                cells.append((to_cells(strip, *size), weight))
            return cells

        light, weight = zip(*sum(in_two(averaged, *_cut(self._bounds())), []), strict=True)
        return np.concatenate(light), np.concatenate(weight)

    def evened(
        self, field: FlatField, inspected: BoolImage | None
    ) -> tuple[RatioImage, RatioImage]:
        """Light relative to the even light, and the same with noise evened out."""
        ratio, smooth = np.empty(self.shape, np.uint16), np.empty(self.shape, np.uint16)
        gain = 1 / field.light
        bounds = self._bounds()
        middle = bounds[len(bounds) // 2]
        known = self._strip(*middle, gain, inspected, 0.0)
        grain = _grain(*(light[::3, ::3] for light in known))

        def evened(bounds: list[tuple[int, int]]) -> None:
            for top, end in bounds:
                even, calm = known
                if (top, end) != middle or grain > GRAINY:
                    even, calm = self._strip(top, end, gain, inspected, grain)
                # As a weighted sum this takes half the time that a product with a number does.
                for light, steps in ((even, ratio), (calm, smooth)):
                    cv2.addWeighted(light, ONE, light, 0, 0, dst=steps[top:end], dtype=cv2.CV_16U)

        in_two(evened, *_cut(bounds))
        return ratio, smooth

    def _strip(
        self, top: int, end: int, gain: FloatImage, inspected: BoolImage | None, grain: float
    ) -> tuple[FloatImage, FloatImage]:
        """One strip of light over the even light, and the same with noise evened out."""
        is_grainy = grain > GRAINY
        halo = GRAINY_HALO_PX if is_grainy else HALO_PX
        first, last = max(0, top - halo), min(self.shape[0], end + halo)
        over = rows_of_cells(gain, self.cell_px, slice(first, last), self.shape[1])
        even = cv2.multiply(self._light(first, last), over)
        if inspected is not None:
            # What lies outside must not leak in when noise is evened out.
            np.copyto(even, 1, where=~inspected[first:last])
        if is_grainy:
            # Half-tones and edges can't be told through grain; its blur is found with the
            # lens's own.
            even = cv2.GaussianBlur(even, (0, 0), min(GRAIN_BLUR_PX * grain / GRAINY, 1.5))
        calm = cv2.GaussianBlur(even, (5, 5), FINDING_BLUR_PX)
        own = slice(top - first, end - first)
        return even[own], calm[own]


def _cut(bounds: list[tuple[int, int]]) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """The strips of the upper and of the lower half."""
    return bounds[: len(bounds) // 2], bounds[len(bounds) // 2 :]


def _need_contrast(grey: GreyImage, inside: BoolImage, inside_px: int) -> None:
    if inside_px < LEAST_SURFACE_PX:
        raise NothingInspectedError(inside_px)
    for some in (slice(None, None, SAMPLED), slice(None)):  # a few mostly show it
        low, high, *_ = cv2.minMaxLoc(grey[some, some], inside[some, some].view(np.uint8))
        if high - low >= LEAST_CONTRAST:
            return
    raise NoContrastError
