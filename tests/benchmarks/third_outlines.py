"""Outlines of voids in millimetres, and how far they cover each pixel."""

from dataclasses import dataclass
from math import cos, exp, pi, sin, sqrt
from typing import Protocol

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.benchmarks.third_camera import Box, View, over_pixels
from tests.benchmarks.third_cloth import Field, Noise

Inside = NDArray[np.bool_]

LEAST_WIDTH_PX = 2.4  # of a long void: a thinner one is lost in the blur
LARGE_PX = 80  # from here on fewer points in a pixel do


class Outline(Protocol):
    """A closed line about a place of the part."""

    reach_mm: float  # along either axis; the rare point further off is cut off

    def holds(self, x: Field, y: Field) -> Inside:
        """Whether places, in mm from its middle, lie within it."""


@dataclass(frozen=True, slots=True, eq=False)
class Blob:
    """A disc of a wavering rim, drawn out along one direction at the same area."""

    radius_mm: float
    reach_mm: float
    stretch: float = 1.0
    turn: float = 0.0
    waves: tuple[tuple[int, float, float], ...] = ()  # number about the rim, height, phase

    def holds(self, x: Field, y: Field) -> Inside:
        a, b = _turned(x, y, self.turn)
        a, b = a / sqrt(self.stretch), b * sqrt(self.stretch)
        about = np.arctan2(b, a)
        rim = 1 + sum(height * np.cos(k * about + phase) for k, height, phase in self.waves)
        return np.hypot(a, b) < self.radius_mm * np.maximum(rim, 0.35)


@dataclass(frozen=True, slots=True, eq=False)
class Capsule:
    """A long void that tapers and bends a little."""

    length_mm: float
    width_mm: float
    turn: float
    bend: float  # in widths
    taper: float

    @property
    def reach_mm(self) -> float:
        return 0.6 * self.length_mm + self.width_mm

    def holds(self, x: Field, y: Field) -> Inside:
        a, b = _turned(x, y, self.turn)
        along = np.clip(2 * a / self.length_mm, -1, 1)
        off = np.abs(b - self.bend * self.width_mm * (along**2 - 0.4))
        half = self.width_mm / 2 * np.sqrt(np.maximum(1 - np.abs(along) ** self.taper, 0))
        return (np.abs(a) < self.length_mm / 2) & (off < half)


@dataclass(frozen=True, slots=True, eq=False)
class Ragged:
    """A blob whose plane was pulled about, as the edge of dry cloth is."""

    blob: Blob
    pulls: tuple[Noise, Noise]
    start: tuple[float, float]

    @property
    def reach_mm(self) -> float:
        return self.blob.reach_mm

    def holds(self, x: Field, y: Field) -> Inside:
        across_mm = 2 * self.blob.radius_mm
        knot = 7 / across_mm
        at = x * knot + self.start[0], y * knot + self.start[1]
        fine = 3 * at[0], 3 * at[1]
        pulled = [
            place + across_mm * (0.06 * pull(*at) + 0.02 * pull(*fine))
            for place, pull in zip((x, y), self.pulls, strict=True)
        ]
        return self.blob.holds(*pulled)


def pinhole(rng: Generator, across_mm: float) -> Blob:
    stretch, turn = exp(abs(rng.normal(0, 0.15))), rng.uniform(0, pi)
    return Blob(across_mm / 2, 0.9 * across_mm, stretch, turn, _waves(rng, 0.18, 5))


def long_void(rng: Generator, across_mm: float, turn: float, px_per_mm: float) -> Capsule:
    """One as large as a disc of ``across_mm``, about, that runs along a tow."""
    longer = rng.uniform(2.5, 6)
    width_mm = max(across_mm / sqrt(longer), LEAST_WIDTH_PX / px_per_mm)
    turn += rng.normal(0, 0.05)
    return Capsule(width_mm * longer, width_mm, turn, rng.normal(0, 0.4), rng.uniform(2, 4))


def dry_patch(rng: Generator, across_mm: float, turn: float) -> Ragged:
    stretch, turn = exp(abs(rng.normal(0, 0.35))), turn + rng.normal(0, 0.3)
    blob = Blob(across_mm / 2, 1.2 * across_mm, stretch, turn, _waves(rng, 0.55, 14))
    start = rng.uniform(0, 99), rng.uniform(0, 99)
    return Ragged(blob, (Noise.drawn(rng), Noise.drawn(rng)), start)


def _waves(rng: Generator, rough: float, most: int) -> tuple[tuple[int, float, float], ...]:
    return tuple((k, rough * rng.normal() / k, rng.uniform(0, 2 * pi)) for k in range(2, most + 1))


def _turned(x: Field, y: Field, turn: float) -> tuple[Field, Field]:
    c, s = cos(turn), sin(turn)
    return c * x + s * y, c * y - s * x


def covered(outline: Outline, x_mm: float, y_mm: float, box: Box, view: View) -> Field:
    """The share of each pixel of the box that lies within an outline about a place."""
    longest = max(side.stop - side.start for side in box)
    each_way = 6 if longest < LARGE_PX else 4
    x, y = view.samples(box, each_way)
    return over_pixels(outline.holds(x - x_mm, y - y_mm), each_way)
