"""Where the camera stands, and what it makes of the light: blur, noise, sharpening, JPEG."""

from dataclasses import dataclass
from math import cos, exp, log, radians, sin, sqrt
from typing import TypeVar

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.benchmarks.third_cloth import Field

DEMOSAIC_PX = 0.55
SHARPENED_PX = 1.2

Range = tuple[float, float]
Box = tuple[slice, slice]
Ordinate = TypeVar("Ordinate", float, NDArray[np.float64])


def log_uniform(rng: Generator, between: Range) -> float:
    """A number drawn evenly on a log scale."""
    return exp(rng.uniform(log(between[0]), log(between[1])))


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Millimetres on the part and pixels of the picture, each from the other."""

    shape: tuple[int, int]  # rows and columns
    px_per_mm: float  # by area, in the middle of the picture
    to_px: NDArray[np.float64]
    to_mm: NDArray[np.float64]

    @classmethod
    def of(
        cls, shape: tuple[int, int], px_per_mm: float, *, tilt_deg: float, azimuth: float
    ) -> "View":
        """Seen ``px_per_mm`` large before the tilt, which goes about an axis in the part.

        The camera stands as far off as the picture is wide: 53 degrees of view.
        """
        rows, columns = shape
        away_mm = columns / px_per_mm
        axis = radians(tilt_deg) * np.array([cos(azimuth), sin(azimuth), 0.0])
        turned, _ = cv2.Rodrigues(axis)
        focal = px_per_mm * away_mm
        lens = np.array([[focal, 0, (columns - 1) / 2], [0, focal, (rows - 1) / 2], [0, 0, 1]])
        to_px = lens @ np.column_stack([turned[:, 0], turned[:, 1], [0, 0, away_mm]])
        to_px /= to_px[2, 2]
        middle = px_per_mm * sqrt(cos(radians(tilt_deg)))
        return cls(shape, middle, to_px, np.linalg.inv(to_px))

    def mm(self, x: Ordinate, y: Ordinate) -> tuple[Ordinate, Ordinate]:
        """Places on the part, in mm, of places in the picture; numbers or arrays."""
        return _through(self.to_mm, x, y)

    def box(self, x_mm: float, y_mm: float, reach_mm: float) -> tuple[int, int, int, int]:
        """Top, bottom, left and right, in px, of a square about a place of the part."""
        ends = (-reach_mm, reach_mm)
        corners = [_through(self.to_px, x_mm + a, y_mm + b) for a in ends for b in ends]
        columns, rows = zip(*corners, strict=True)
        return int(min(rows)) - 1, int(max(rows)) + 2, int(min(columns)) - 1, int(max(columns)) + 2

    def samples(self, box: Box, each_way: int) -> tuple[Field, Field]:
        """Places in mm of even points within the pixels of a box."""
        rows, columns = (np.arange(side.start * each_way, side.stop * each_way) for side in box)
        x, y = np.meshgrid((columns + 0.5) / each_way - 0.5, (rows + 0.5) / each_way - 0.5)
        x_mm, y_mm = self.mm(x, y)
        return x_mm.astype(np.float32), y_mm.astype(np.float32)


def _through(matrix: NDArray[np.float64], x: Ordinate, y: Ordinate) -> tuple[Ordinate, Ordinate]:
    (a, b, c), (d, e, f), (g, h, i) = matrix.tolist()
    depth = g * x + h * y + i
    return (a * x + b * y + c) / depth, (d * x + e * y + f) / depth


def over_pixels(samples: NDArray, each_way: int) -> Field:
    """The mean of the samples of each pixel."""
    rows, columns = (side // each_way for side in samples.shape)
    split = samples.reshape(rows, each_way, columns, each_way)
    return split.mean((1, 3), dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Camera:
    """A telephone's camera, in ordinary or in poor hands."""

    blur_px: float
    well: float  # electrons at full white
    read: float  # electrons of noise in the dark
    sharpening: float
    quality: int

    @classmethod
    def drawn(cls, rng: Generator, *, is_poor: bool) -> "Camera":
        return cls(
            blur_px=rng.uniform(1.2, 1.6) if is_poor else rng.uniform(0.5, 1.1),
            well=1200 if is_poor else log_uniform(rng, (1500, 7000)),
            read=rng.uniform(2, 6),
            sharpening=rng.uniform(0.2, 0.7),
            quality=75 if is_poor else int(rng.integers(75, 96)),
        )

    def taken(self, light: Field, tint: list[Field | float], rng: Generator) -> NDArray[np.uint8]:
        """The photo, grey, as a JPEG file in colour keeps it.

        ``light`` is linear, 1 the white of the sensor; ``tint`` is what red, green and blue see
        of it.
        """
        soft = cv2.GaussianBlur(light, (0, 0), self.blur_px)
        red, green, blue = (self._channel(soft * share, rng) for share in tint)
        settings = [cv2.IMWRITE_JPEG_QUALITY, self.quality]
        coded = cv2.imencode(".jpg", cv2.merge([blue, green, red]), settings)[1]
        return cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)

    def _channel(self, light: Field, rng: Generator) -> NDArray[np.uint8]:
        electrons = np.clip(light, 0, 1) * self.well
        # Shot and read noise in one: the variances of independent noises add.
        noise = rng.standard_normal(light.shape, dtype=np.float32)
        electrons += np.sqrt(electrons + self.read**2) * noise
        linear = cv2.GaussianBlur(electrons / self.well, (0, 0), DEMOSAIC_PX)
        value = _srgb(np.clip(linear, 0, 1))
        value += self.sharpening * (value - cv2.GaussianBlur(value, (0, 0), SHARPENED_PX))
        return np.clip(value * 255 + 0.5, 0, 255).astype(np.uint8)


def _srgb(linear: Field) -> Field:
    """IEC 61966-2-1, for light of 0 to 1."""
    curve = 1.055 * np.power(np.maximum(linear, 1e-6), 1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curve)
