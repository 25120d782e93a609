"""Woven cloth where every tow has a place, a width and a tone of its own.

A place on the part is given in millimetres; what lies on top there, and where on that tow one
stands, is what the light needs (``third_shading``).
"""

from dataclasses import dataclass
from math import cos, pi, radians, sin

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

Field = NDArray[np.float32]
Whole = NDArray[np.int32]

KNOTS = 256
MARGIN = 4  # knots repeated about the lattice, for the curve between them
TOWS = 1024  # of each direction, before they come round again
GAP_EDGE = 0.10  # of a tow's half width, over which it falls to the gap


@dataclass(frozen=True, slots=True, eq=False)
class Noise:
    """A smooth random field of unit spread at its knots, which lie one unit apart."""

    lattice: Field

    @classmethod
    def drawn(cls, rng: Generator) -> "Noise":
        knots = rng.standard_normal((KNOTS, KNOTS), dtype=np.float32)
        return cls(np.pad(knots, MARGIN, mode="wrap"))

    def __call__(self, x: Field, y: Field) -> Field:
        """Its value at places given by two (M, N) float32 arrays, in knots."""
        around = (_wrapped(at, KNOTS) + MARGIN for at in (x, y))
        return cv2.remap(self.lattice, *around, cv2.INTER_CUBIC)


@dataclass(frozen=True, slots=True, eq=False)
class Tows:
    """What lies on top at each place, and where on it the place is; all (M, N)."""

    u: Field  # across the warp and across the weft, in pitches
    v: Field
    column: Whole  # number of the warp tow, and of the weft tow, that cross here
    row: Whole
    is_warp: NDArray[np.bool_]  # the warp is on top
    across: Field  # -1 to 1 from one edge of the upper tow's lane to the other
    along: Field  # -1 to 1 from one end of its float to the other
    within: Field  # as ``across``, in half widths of the tow itself
    on: Field  # 1 on the tow, 0 in the gap beside it
    tone: Field
    warp_within: Field
    weft_within: Field


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """Plain weave or 2/2 twill, turned and a little bent."""

    pitch_mm: float
    is_twill: bool
    turn: float  # of the cloth against the picture, radians
    wander_mm: float
    drift: tuple[Noise, Noise]
    shift: Field  # (2 * TOWS,) of each warp tow, then of each weft tow, in pitches
    width: Field  # of each, in pitches
    tone: Field  # of each, about 1

    @classmethod
    def woven(cls, rng: Generator, *, is_carbon: bool, is_twill: bool, pitch_mm: float) -> "Cloth":
        """Cloth laid as it comes: mostly straight or on the bias, sometimes neither."""
        near = (rng.uniform(-8, 8), 45 + rng.uniform(-6, 6), rng.uniform(0, 90))
        full = 0.97 if is_carbon else rng.uniform(0.86, 0.97)
        uneven = 0.05 if is_carbon else 0.025
        return cls(
            pitch_mm=pitch_mm,
            is_twill=is_twill,
            turn=radians(near[rng.choice(3, p=(0.5, 0.3, 0.2))]),
            wander_mm=rng.uniform(0.10, 0.30) * pitch_mm,
            drift=(Noise.drawn(rng), Noise.drawn(rng)),
            shift=rng.normal(0, 0.035, 2 * TOWS).astype(np.float32),
            width=(full * rng.uniform(0.90, 1.0, 2 * TOWS)).astype(np.float32),
            tone=np.exp(rng.normal(0, uneven, 2 * TOWS)).astype(np.float32),
        )

    def uv(self, x: Field, y: Field) -> tuple[Field, Field]:
        """Places across the warp and across the weft, in mm."""
        c, s = cos(self.turn), sin(self.turn)
        knot = 1 / (9 * self.pitch_mm)
        bend_u, bend_v = (self.wander_mm * noise(x * knot, y * knot) for noise in self.drift)
        return c * x + s * y + bend_u, c * y - s * x + bend_v

    def xy(self, u: float, v: float) -> tuple[float, float]:
        """The way back from ``uv``, for one place: the bend is small, so steps settle at once."""
        c, s = cos(self.turn), sin(self.turn)
        x, y = c * u - s * v, s * u + c * v
        for _ in range(6):
            at_u, at_v = self.uv_of(x, y)
            x, y = x + c * (u - at_u) - s * (v - at_v), y + s * (u - at_u) + c * (v - at_v)
        return x, y

    def uv_of(self, x: float, y: float) -> tuple[float, float]:
        """``uv`` of one place."""
        u, v = self.uv(np.full((1, 1), x, np.float32), np.full((1, 1), y, np.float32))
        return float(u[0, 0]), float(v[0, 0])

    def tows(self, x: Field, y: Field) -> Tows:
        """What lies on top at places of the part, in mm."""
        u, v = (place / self.pitch_mm for place in self.uv(x, y))
        lane_u, lane_v = np.floor(u), np.floor(v)
        column, row = lane_u.astype(np.int32), lane_v.astype(np.int32)
        period, reach = (4, 2) if self.is_twill else (2, 1)
        is_warp = (column + row) % period < reach
        warp, weft = column % TOWS, row % TOWS + TOWS
        warp_across = 2 * (u - lane_u - 0.5 - self.shift[warp])
        weft_across = 2 * (v - lane_v - 0.5 - self.shift[weft])
        on_warp, on_weft = _wrapped(lane_u + v, period), _wrapped(lane_v + u, period) - reach
        across = np.where(is_warp, warp_across, weft_across)
        along = np.where(is_warp, on_warp, on_weft) * (2 / reach) - 1
        top = np.where(is_warp, warp, weft)
        # A tow is drawn in a little where it dives under.
        within = across / (self.width[top] * (1 - 0.10 * np.square(along * along * along)))
        return Tows(
            u=u,
            v=v,
            column=column,
            row=row,
            is_warp=is_warp,
            across=across,
            along=along,
            within=within,
            on=np.clip((1 - np.abs(within)) / GAP_EDGE + 0.5, 0, 1),
            tone=self.tone[top],
            warp_within=warp_across / self.width[warp],
            weft_within=weft_across / self.width[weft],
        )

    def to_a_gap(self, place_mm: float, rng: Generator, *, off: float = 0.0) -> float:
        """The gap between two tows nearest to a place across them, give or take ``off`` pitches."""
        off_mm = rng.normal(0, off) * self.pitch_mm if off else 0.0
        return round(place_mm / self.pitch_mm) * self.pitch_mm + off_mm

    def way_of(self, *, is_warp: bool) -> float:
        """The direction in which a tow runs, radians."""
        return self.turn + (pi / 2 if is_warp else 0)


def _wrapped(at: Field, period: int) -> Field:
    """As ``numpy.mod``, which takes ten times as long."""
    return at - period * np.floor(at / period)
