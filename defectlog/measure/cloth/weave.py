"""How cloth recurs: what it is like when moved, and by which repeats of its weave."""

from dataclasses import dataclass

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, FloatImage, RatioImage, as_ratio
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.arrays.quantiles import quantiles_of

SQUARE = 768  # pixels of the square the repeat is looked for in
LOOK_PX_PER_MM = 8.0
# So much of it has to be inspected; elsewhere it is looked for where less than this is. Told by so
# many places along its side.
LEAST_HELD, MOSTLY_HELD, COARSE = 0.3, 0.5, 64
SAMPLED = 7  # of so many pixels one, for what the bulk of them shows
VECTORS = 6

Vector = tuple[int, int]  # rows, columns


@dataclass(frozen=True, slots=True)
class Recurrence:
    """How alike the middle of a surface is to itself when moved.

    ``repeat`` is its autocorrelation, moved by nothing in the middle of it; ``light`` what it
    is of, at ``shrink`` pixels of the picture to one, and of that ``held`` what is inspected.
    """

    repeat: FloatImage
    light: FloatImage
    held: BoolImage
    shrink: float


def weave_repeats(
    ratio: RatioImage | FloatImage, inspected: BoolImage, *, px_per_mm: float
) -> list[Vector]:
    """The strongest repeat vectors of a surface, in pixels, strongest first.

    Parameters
    ----------
    ratio : (M, N) light relative to the even light of the surface
    inspected : (M, N) bool
    px_per_mm : of the picture, roughly
    """
    return repeats_of(recurrence(ratio, inspected, px_per_mm=px_per_mm))


def repeats_of(seen: Recurrence | None) -> list[Vector]:
    """The strongest repeat vectors that a surface moved shows, in pixels, strongest first."""
    return [] if seen is None else _peaks(seen.repeat, seen.shrink)


def recurrence(
    ratio: RatioImage | FloatImage, inspected: BoolImage, *, px_per_mm: float
) -> Recurrence | None:
    """The autocorrelation of the middle of the inspected surface; None where there is too little.

    Voids hardly count: contrast is clipped to what the bulk of the surface shows.
    """
    shrink = max(1.0, px_per_mm / LOOK_PX_PER_MM)
    side = int(min(SQUARE * shrink, *ratio.shape))
    window = _window(inspected, side)
    size = int(side / shrink)
    if size < 64:
        return None
    light = cv2.resize(as_ratio(ratio[window]), (size, size), interpolation=cv2.INTER_AREA)
    held = cv2.resize(inspected[window].view(np.uint8), (size, size)) > 0
    if np.count_nonzero(held) < LEAST_HELD * held.size:
        return None
    low, middle_value, high = quantiles_of(light[held][::SAMPLED], 0.1, 0.5, 0.9)
    patch = np.where(held, np.clip(light, low, high) - middle_value, np.float32(0))
    # Light that changes over more than some tows is not weave.
    coarse = cv2.resize(patch, (24, 24), interpolation=cv2.INTER_AREA)
    patch -= cv2.resize(coarse, (size, size), interpolation=cv2.INTER_CUBIC)
    hann = np.hanning(size).astype(np.float32)
    spectrum = cv2.dft(patch * hann[:, None] * hann)
    repeat = cv2.idft(cv2.mulSpectrums(spectrum, spectrum, 0, conjB=True))
    repeat = np.fft.fftshift(repeat / max(float(repeat[0, 0]), 1e-12))
    return Recurrence(repeat, light, held, shrink)


def _window(inspected: BoolImage, side: int) -> tuple[slice, slice]:
    """A square in the middle of what is inspected; where glare hides most of that, elsewhere."""
    left, top, across, down = cv2.boundingRect(inspected.view(np.uint8))
    places = (
        int(np.clip((2 * first + long - 1) // 2 - side // 2, 0, length - side))
        for first, long, length in zip((top, left), (down, across), inspected.shape, strict=True)
    )
    window = tuple(slice(first, first + side) for first in places)
    step = max(1, side // COARSE)
    if inspected[window][::step, ::step].mean() >= MOSTLY_HELD:
        return window
    few = inspected[::step, ::step].astype(np.float32)
    across = min(side // step, *few.shape)
    share = cv2.blur(few, (across, across), anchor=(0, 0), borderType=cv2.BORDER_CONSTANT)
    share = share[: len(few) - across + 1, : few.shape[1] - across + 1]
    best = np.unravel_index(int(share.argmax()), share.shape)
    return tuple(
        slice(first, first + side)
        for first in (
            min(int(at) * step, length - side)
            for at, length in zip(best, inspected.shape, strict=True)
        )
    )


def _peaks(repeat: FloatImage, shrink: float) -> list[Vector]:
    smooth, y, x = tops_of(repeat)
    dy, dx = (at - repeat.shape[0] // 2 for at in (y, x))
    order = np.argsort(-smooth[y, x], kind="stable")[:VECTORS]
    return [(round(float(dy[k]) * shrink), round(float(dx[k]) * shrink)) for k in order]


def tops_of(repeat: FloatImage) -> tuple[FloatImage, IndexArray, IndexArray]:
    """An autocorrelation without its grain, and the rows and columns of its tops, one half of them.

    The other half is the same, turned about the middle.
    """
    size = repeat.shape[0]
    smooth = cv2.GaussianBlur(repeat, (0, 0), 1.0)
    top = (smooth == cv2.dilate(smooth, np.ones((9, 9), np.uint8))) & (smooth > 0.08)
    y, x = np.divmod(np.flatnonzero(top), size)
    dy, dx = y - size // 2, x - size // 2
    length = np.hypot(dy, dx)
    half = ((dy > 0) | ((dy == 0) & (dx > 0))) & (length > 6) & (length < size / 3)
    return smooth, y[half], x[half]
