"""The surface while it is being drawn, and the strokes every defect is made of."""

from dataclasses import dataclass, field
from math import cos, pi, sin

import cv2
import numpy as np

from defectlog.demo.camera import View
from defectlog.demo.spec import DrawnDefect, Outline, PhotoSpec, Point
from defectlog.demo.weave import Bytes, Cloth, Floats, smooth_noise

Window = tuple[slice, slice]


@dataclass(slots=True)
class Sheet:
    """The surface while it is being drawn: its colours, its weave and its voids."""

    planes: list[Floats]
    weave: Floats  # sheen of the cloth about a mean of 0
    void_cover: Bytes
    spec: PhotoSpec
    view: View
    free: Bytes  # 255 where the part is seen and no card lies
    drawn: list[DrawnDefect] = field(default_factory=list)

    @property
    def carbon(self) -> bool:
        return self.spec.surface.cloth is Cloth.CARBON_TWILL


def window_around(sheet: Sheet, outline_px: Outline, margin: float) -> Window | None:
    points = np.asarray(outline_px)
    low = np.floor(points.min(0) - margin).astype(int)
    high = np.ceil(points.max(0) + margin).astype(int)
    rows, columns = sheet.weave.shape
    left, top = max(0, low[0]), max(0, low[1])
    right, bottom = min(columns, high[0]), min(rows, high[1])
    if right - left < 4 or bottom - top < 4:
        return None
    return slice(top, bottom), slice(left, right)


def ellipse(centre: Point, size: Point, count: int = 36) -> Outline:
    turns = np.linspace(0, 2 * pi, count, endpoint=False)
    return tuple(
        (centre[0] + size[0] / 2 * cos(t), centre[1] + size[1] / 2 * sin(t)) for t in turns
    )


def blend(sheet: Sheet, window: Window, share: Floats, colour: tuple[float, ...] | None) -> None:
    """Mix a flat colour (blue, green, red) into the window by ``share``."""
    for plane, value in zip(sheet.planes, colour, strict=True):
        part = plane[window]
        part += share * (value - part)


def shade(sheet: Sheet, window: Window, factor: Floats) -> None:
    for plane in sheet.planes:
        plane[window] *= factor


def rough_island(
    sheet: Sheet, window: Window, outline_px: Outline, rng: np.random.Generator, *, rag: float
) -> Floats:
    """A field above 0.5 inside an irregular island about as large as the outline."""
    rows, columns = (axis.stop - axis.start for axis in window)
    points = np.asarray(outline_px) - [window[1].start, window[0].start]
    middle = points.mean(0)
    half = np.maximum(np.abs(points - middle).max(0), 1)
    y, x = np.ogrid[:rows, :columns]
    far = np.sqrt(((x - middle[0]) / half[0]) ** 2 + ((y - middle[1]) / half[1]) ** 2)
    return (
        1.32
        - 0.95 * far
        + rag * smooth_noise(rng, (rows, columns), 5)
        + 0.4 * rag * smooth_noise(rng, (rows, columns), 16)
    ).astype(np.float32)


def largest_outline(inside: np.ndarray, window: Window) -> Outline:
    found, _ = cv2.findContours(inside.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not found:
        return ()
    largest = cv2.approxPolyDP(max(found, key=cv2.contourArea), 2.0, True)[:, 0]
    return tuple((float(x + window[1].start), float(y + window[0].start)) for x, y in largest)


def along_and_aside(
    shape: tuple[int, int], start: np.ndarray, unit: np.ndarray
) -> tuple[Floats, Floats]:
    """Distance along a direction from a point, and to the side of it, in pixels."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    x, y = x - np.float32(start[0]), y - np.float32(start[1])
    ux, uy = np.float32(unit[0]), np.float32(unit[1])
    return x * ux + y * uy, y * ux - x * uy


def sixteenths(point: np.ndarray) -> tuple[int, int]:
    return int(round(point[0] * 16)), int(round(point[1] * 16))
