"""A picture in squares of a few pixels along a side, told in the middle of each."""

from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage, RatioImage, halved

Image = TypeVar("Image", BoolImage, RatioImage)


def told_at(every: int) -> float:
    """Where squares of so many pixels along a side are told: in the middle, or a half beside it.

    Of two that is between pixels, of all others a pixel.
    """
    return 0.5 if every == 2 else float((every - 1) // 2)


def middles(light: RatioImage, every: int) -> RatioImage:
    """Light in the middle of squares of so many pixels along a side."""
    return halved(light) if every == 2 else np.ascontiguousarray(in_middles(light, every))


def in_middles(image: Image, every: int) -> Image:
    """The pixels in the middle of such squares; of two those before it."""
    return image[(slice((every - 1) // 2, None, every),) * 2]


def middle_places(side: int, every: int) -> NDArray[np.int64]:
    """Which pixels along a side of a picture are in the middle of such squares."""
    return np.arange((every - 1) // 2, side, every)


def between(squares: RatioImage, every: int, rows: slice, columns: int) -> RatioImage:
    """Some rows of what squares of so many pixels say of a picture, interpolated between."""
    # With the squares above and below, so that what is told strip by strip has no seams.
    first = max(rows.start // every - 2, 0)
    near = squares[first : -(-rows.stop // every) + 2]
    size = (near.shape[1] * every, len(near) * every)
    whole = cv2.resize(near, size, interpolation=cv2.INTER_CUBIC)
    top = rows.start - first * every
    return whole[top : top + rows.stop - rows.start, :columns]


def at_half(squares: RatioImage, every: int, shape: tuple[int, int]) -> RatioImage:
    """What squares of so many pixels say of a picture, at half its size."""
    if every == 2:
        return squares
    rows, columns = squares.shape
    even = cv2.copyMakeBorder(
        squares, 0, 1 + (rows + 1) % 2, 0, 1 + (columns + 1) % 2, cv2.BORDER_REPLICATE
    )
    size = (even.shape[1] * every // 2, len(even) * every // 2)
    half = cv2.resize(even, size, interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(half[: -(-shape[0] // 2), : -(-shape[1] // 2)])


def to_the_edge(cells: NDArray[np.number]) -> NDArray[np.number]:
    """Cells with one more row and column: the last of a picture's pixels may be in no square."""
    return cv2.copyMakeBorder(cells, 0, 1, 0, 1, cv2.BORDER_REPLICATE)
