"""What lies between the laminate and a fair picture of it: uneven light, wrinkles, glare, dirt."""

from math import cos, log, pi, sin, sqrt

import cv2
import numpy as np
from numpy.random import Generator

from tests.benchmarks.third_camera import Range
from tests.benchmarks.third_cloth import Field, Noise

FINER = 4  # thin lines are drawn so much larger, then averaged
STEPS = 60  # of a bent line


def uneven(rng: Generator, shape: tuple[int, int], ratio: float) -> Field:
    """Light about 1: a lamp near by, a slope of ``ratio`` over the picture, dark corners."""
    rows, columns = shape
    x, y = np.meshgrid(
        np.linspace(-1, 1, columns, dtype=np.float32), np.linspace(-1, 1, rows, dtype=np.float32)
    )
    way, lamp_x, lamp_y = rng.uniform(0, 2 * pi), rng.uniform(-1, 1), rng.uniform(-1, 1)
    near = rng.uniform(0.1, 0.6)
    light = (1 + near * ((x - lamp_x) ** 2 + (y - lamp_y) ** 2)) ** -1.5
    light *= np.exp(log(ratio) / 2.8 * (x * cos(way) + y * sin(way)))
    light *= 1 - rng.uniform(0.05, 0.25) * (x * x + y * y) / 2
    return light / light.mean()


def wrinkles(
    rng: Generator, shape: tuple[int, int], px_per_mm: float, number: int, lamp_azimuth: float
) -> Field:
    """How the flanks of wrinkles lean to the lamp and from it, about 1."""
    gain = np.ones(shape, np.float32)
    rows, columns = shape
    y, x = (np.indices(shape, dtype=np.float32) / px_per_mm).astype(np.float32)
    wide_mm, high_mm = columns / px_per_mm, rows / px_per_mm
    for _ in range(number):
        way = rng.uniform(0, pi)
        from_x = x - rng.uniform(0.2, 0.8) * wide_mm
        from_y = y - rng.uniform(0.2, 0.8) * high_mm
        along = from_x * cos(way) + from_y * sin(way)
        across = from_y * cos(way) - from_x * sin(way)
        across -= rng.uniform(0.5, 2) * np.sin(along / rng.uniform(6, 15))
        width_mm, half_mm = rng.uniform(0.6, 2.0), rng.uniform(0.1, 0.25) * wide_mm
        ends = 1 / (1 + np.exp((np.abs(along) - half_mm) / 3))
        z = across / width_mm
        flank = rng.uniform(0.15, 0.35) * abs(sin(way - lamp_azimuth)) + 0.06
        gain *= 1 + 1.6 * flank * ends * z * np.exp(-z * z / 2)
        if rng.random() < 0.5:
            gain *= 1 + rng.uniform(0.1, 0.3) * ends * np.exp(-np.square((z - 0.5) / 0.3))
    return gain


def mirrored(rng: Generator, shape: tuple[int, int], px_per_mm: float, share: float) -> Field:
    """A window mirrored in gloss that the weave prints through; it fills ``share`` of the picture.

    Light beside that of the surface, 1 the white of the sensor.
    """
    rows, columns = shape
    y, x = np.indices(shape, dtype=np.float32)
    knot = 1 / (1.3 * px_per_mm)
    bend_px = 0.45 * 1.3 * px_per_mm
    bends = []
    for _ in range(2):
        fine, broad = Noise.drawn(rng), Noise.drawn(rng)
        bends.append(fine(x * knot, y * knot) + 4 * broad(x * (knot / 9), y * (knot / 9)))
    x, y = x + bend_px * bends[0], y + bend_px * bends[1]
    from_x = x - rng.uniform(0.15, 0.85) * columns
    from_y = y - rng.uniform(0.15, 0.85) * rows
    way, longer = rng.uniform(0, pi), rng.uniform(1, 3)
    half_px = sqrt(share * rows * columns / longer) / 2
    soft_px = rng.uniform(0.15, 0.4) * half_px
    over = np.abs(from_x * cos(way) + from_y * sin(way)) - longer * half_px
    under = np.abs(from_y * cos(way) - from_x * sin(way)) - half_px
    window = 1 / (1 + np.exp(over / soft_px)) / (1 + np.exp(under / soft_px))
    return rng.uniform(1.0, 2.5) * window


def lines(
    rng: Generator, shape: tuple[int, int], number: int, length_px: Range, width_px: Range
) -> Field:
    """How far bent thin lines, hairs or scratches, cover each pixel, 0 to 1."""
    rows, columns = shape
    canvas = np.zeros((rows * FINER, columns * FINER), np.uint8)
    for _ in range(number):
        length = rng.uniform(*length_px)
        turning = rng.normal(0, 0.012 / max(1, length / 400)) * length / STEPS
        wave = 0.03 * np.sin(0.2 * np.arange(STEPS) + rng.normal())
        way = rng.uniform(0, 2 * pi) + np.cumsum(turning + wave)
        steps = np.column_stack([np.cos(way), np.sin(way)]) * length / STEPS
        start = rng.uniform(0, 1, 2) * (columns, rows)
        path = np.round(FINER * (start + np.cumsum(steps, axis=0))).astype(np.int32)
        thick = max(1, round(FINER * rng.uniform(*width_px)))
        cv2.polylines(canvas, [path], False, 255, thick, cv2.LINE_AA)
    small = cv2.resize(canvas, (columns, rows), interpolation=cv2.INTER_AREA)
    return small.astype(np.float32) / 255


def dust(rng: Generator, shape: tuple[int, int], number: int) -> Field:
    """Pale specks of a pixel, in lights of the surface."""
    specks = np.zeros(shape, np.float32)
    rows, columns = shape
    at = rng.integers(0, rows, number), rng.integers(0, columns, number)
    specks[at] = rng.uniform(0.4, 1.2, number)
    return cv2.GaussianBlur(specks, (0, 0), 0.6)
