"""The light of a picture, strip by strip: as it is in cells, and relative to the even light."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import (
    ONE,
    BoolImage,
    FlatField,
    FloatImage,
    GreyImage,
    RatioImage,
    linear_light,
    rows_of_cells,
    to_cells,
)
from defectlog.measure.arrays.quantiles import middle_of

STRIP_PX = 128
HALO_PX, GRAINY_HALO_PX = 2, 8  # what smoothing looks at beyond a strip
CELL_ROWS = 6  # are enough to tell the light of a cell by
# From this noise of single pixels on, as a share of the light, a picture is smoothed first.
GRAINY = 0.07
GRAIN_BLUR_PX = 0.6
FINDING_BLUR_PX = 0.8


def grain_of(even: FloatImage, calm: FloatImage) -> float:
    """Deviation of the noise of single pixels, as a share of the light.

    ``even`` is light relative to the even light, ``calm`` the same with noise evened out.
    """
    rest = middle_of(np.abs(even - calm).ravel())
    # Smoothing takes a fifth of the noise's deviation away with itself.
    return 1.4826 * float(rest) / 0.8


@dataclass(frozen=True, slots=True)
class Strips:
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
        """Mean light of each cell, zero outside, and the share of it that is inside.

        ``inside`` is (M, N) bool, of ``shape``; None where all of the picture is.
        """
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
        """Light relative to the even light, (M, N), and the same with noise evened out.

        ``inspected`` is (M, N) bool; None where all of the picture is.
        """
        ratio, smooth = np.empty(self.shape, np.uint16), np.empty(self.shape, np.uint16)
        gain = 1 / field.light
        bounds = self._bounds()
        middle = bounds[len(bounds) // 2]
        known = self._strip(*middle, gain, inspected, 0.0)
        grain = grain_of(*(light[::3, ::3] for light in known))

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
