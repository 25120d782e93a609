"""The light that comes back from cloth under resin, place by place, before any lamp is uneven.

Carbon is lit as fibres are: by the angle between the fibre and the half vector of lamp and eye,
so that warp and weft differ and every float has a sheen (Kajiya and Kay, Rendering fur with
three dimensional textures, SIGGRAPH 1989). Glass scatters by its thickness, over a core whose
light comes through it twice.
"""

from dataclasses import dataclass
from math import cos, pi, radians, sin, sqrt

import numpy as np
from numpy.random import Generator

from tests.benchmarks.third_cloth import Cloth, Field, Noise, Tows


@dataclass(frozen=True, slots=True)
class Lamp:
    """Where the light comes from: about the picture and above it, radians."""

    azimuth: float
    height: float

    def seen_from(self, turn: float) -> tuple[float, float, float]:
        """The direction to it, in the axes of cloth turned so far."""
        flat, about = cos(self.height), self.azimuth - turn
        return flat * cos(about), flat * sin(about), sin(self.height)


@dataclass(frozen=True, slots=True, eq=False)
class Carbon:
    """Dark, shining fibres."""

    to_lamp: tuple[float, float, float]
    half: tuple[float, float, float]  # between lamp and eye
    crimp: float  # slope at the ends of a float
    crown: float  # slope at the edges of a tow
    gloss: float
    resin: Noise
    yarn_gain: float

    @classmethod
    def drawn(cls, rng: Generator, to_lamp: tuple[float, float, float]) -> "Carbon":
        x, y, z = to_lamp
        length = sqrt(x * x + y * y + (z + 1) ** 2)
        return cls(
            to_lamp=to_lamp,
            half=(x / length, y / length, (z + 1) / length),
            crimp=rng.uniform(0.10, 0.22),
            crown=rng.uniform(0.10, 0.25),
            gloss=rng.uniform(5, 14),
            resin=Noise.drawn(rng),
            yarn_gain=rng.uniform(2.0, 3.5),
        )

    def light(self, tows: Tows, streak: Field, x: Field, y: Field) -> Field:
        slope_along, slope_across = -2 * self.crimp * tows.along, -2 * self.crown * tows.across
        flat = np.where(tows.is_warp, np.float32(self.half[1]), np.float32(self.half[0]))
        lean = (flat + slope_along * self.half[2]) / np.sqrt(1 + slope_along**2)
        sheen = np.power(np.maximum(1 - lean**2, 0), self.gloss)
        side = np.where(tows.is_warp, np.float32(self.to_lamp[0]), np.float32(self.to_lamp[1]))
        matt = (self.to_lamp[2] - slope_across * side) / np.sqrt(1 + slope_across**2)
        fibre = (0.030 + 0.10 * sheen) * (0.55 + 0.45 * np.maximum(matt, 0)) * streak * tows.tone
        gap = 0.024 + 0.0024 * self.resin(x / 0.3, y / 0.3)
        return tows.on * fibre + (1 - tows.on) * gap

    def yarn(self, tows: Tows, streak: Field, light: Field) -> Field:
        """The light of a tracer yarn: one of glass or aramid, whatever lies around."""
        return 0.08 * self.yarn_gain * streak * (1 - 0.3 * np.minimum(tows.within**2, 1))


@dataclass(frozen=True, slots=True, eq=False)
class Grooves:
    """A core cut for bending, its grooves full of resin."""

    apart_mm: float
    depth: float

    @classmethod
    def drawn(cls, rng: Generator) -> "Grooves":
        return cls(rng.uniform(20, 30), rng.uniform(0.08, 0.2))

    def share(self, x: Field, y: Field) -> Field:
        """What is left of the core's light."""
        half = self.apart_mm / 2
        off = [np.abs(np.mod(at, self.apart_mm) - half) for at in (x + 3, y)]
        return 1 - 2 * self.depth * np.exp(-np.square(np.minimum(*off) / 0.9))


@dataclass(frozen=True, slots=True, eq=False)
class Glass:
    """Two plies that scatter, over a core."""

    thickness: float
    white: float
    core: float
    under: Noise
    grain: tuple[Noise, Noise]
    grooves: Grooves | None
    yarn_gain: float

    @classmethod
    def drawn(cls, rng: Generator, *, has_grooves: bool) -> "Glass":
        return cls(
            thickness=rng.uniform(0.7, 1.6),
            white=rng.uniform(0.75, 0.9),
            core=rng.uniform(0.35, 0.75),
            under=Noise.drawn(rng),
            grain=(Noise.drawn(rng), Noise.drawn(rng)),
            grooves=Grooves.drawn(rng) if has_grooves else None,
            yarn_gain=rng.uniform(0.25, 0.5),
        )

    def light(self, tows: Tows, streak: Field, x: Field, y: Field) -> Field:
        lens = sum(
            np.sqrt(np.maximum(1 - within**2, 0)) for within in (tows.warp_within, tows.weft_within)
        )
        lens += 0.25 * (1 - tows.along**2) * tows.on
        # The ply below is out of step with the one on top.
        below = tows.u * 1.003 + 0.37 + 0.15 * self.under(x / 30, y / 30)
        lens += 0.35 * (np.abs(np.sin(pi * below)) + np.abs(np.sin(pi * (0.997 * tows.v + 0.21))))
        scatter = 1 - np.exp(-0.6 * self.thickness * lens)
        through = np.square(1 - 0.75 * scatter)
        return 0.8 * self.white * scatter * streak * tows.tone + through * self._core(x, y)

    def _core(self, x: Field, y: Field) -> Field:
        fine, coarse = self.grain
        cells = np.minimum(fine(x / 0.45, y / 0.45), 0.8)
        core = self.core * (1 + 0.06 * cells + 0.05 * coarse(x / 12, y / 12))
        return core * self.grooves.share(x, y) if self.grooves else core

    def yarn(self, tows: Tows, streak: Field, light: Field) -> Field:
        """The light of a tracer yarn: a dyed one lets part of it back."""
        return light * self.yarn_gain


@dataclass(frozen=True, slots=True)
class Tracer:
    """Every so many tows of one direction a yarn of another make."""

    is_warp: bool
    every: int
    first: int

    @classmethod
    def drawn(cls, rng: Generator) -> "Tracer":
        return cls(bool(rng.integers(2)), int(rng.integers(9, 22)), int(rng.integers(8)))

    def share(self, tows: Tows) -> Field:
        number = tows.column if self.is_warp else tows.row
        is_one = (number % self.every == self.first) & (tows.is_warp == self.is_warp)
        middle = is_one & (np.abs(tows.across) < 0.55)
        return middle * np.clip((0.95 - np.abs(tows.along)) / 0.1, 0, 1)


@dataclass(frozen=True, slots=True, eq=False)
class Peel:
    """The print of peel ply: a finer weave of bumps, turned its own way."""

    pitch_mm: float
    depth: float
    turn: float
    uneven: Noise

    @classmethod
    def drawn(cls, rng: Generator) -> "Peel":
        pitch, depth, turn = rng.uniform(0.25, 0.45), rng.uniform(0.04, 0.10), rng.uniform(0, pi)
        return cls(pitch, depth, turn, Noise.drawn(rng))

    def gain(self, x: Field, y: Field) -> Field:
        c, s = cos(self.turn) * pi / self.pitch_mm, sin(self.turn) * pi / self.pitch_mm
        a, b = c * x + s * y, c * y - s * x
        bumps = np.sin(a) * np.cos(0.5 * b) + np.sin(b) * np.cos(0.5 * a)
        return 1 + self.depth * bumps * (1 + 0.3 * self.uneven(x / 3, y / 3))


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """One face of a laminate without voids."""

    cloth: Cloth
    lamp: Lamp
    material: Carbon | Glass
    streaks: float
    fine: Noise
    slow: Noise
    tracer: Tracer | None
    peel: Peel | None

    @property
    def is_carbon(self) -> bool:
        return isinstance(self.material, Carbon)

    @classmethod
    def laid_up(
        cls,
        rng: Generator,
        cloth: Cloth,
        *,
        is_carbon: bool,
        has_tracer: bool,
        has_peel: bool,
        has_grooves: bool,
    ) -> "Face":
        lamp = Lamp(rng.uniform(0, 2 * pi), radians(rng.uniform(35, 65)))
        if is_carbon:
            material = Carbon.drawn(rng, lamp.seen_from(cloth.turn))
        else:
            material = Glass.drawn(rng, has_grooves=has_grooves)
        return cls(
            cloth=cloth,
            lamp=lamp,
            material=material,
            streaks=rng.uniform(0.05, 0.12) if is_carbon else rng.uniform(0.01, 0.035),
            fine=Noise.drawn(rng),
            slow=Noise.drawn(rng),
            tracer=Tracer.drawn(rng) if has_tracer else None,
            peel=Peel.drawn(rng) if has_peel else None,
        )

    def light(self, x: Field, y: Field) -> tuple[Field, Field | None]:
        """Light at places in mm, as shares of what falls there, and how far it is tracer yarn."""
        tows = self.cloth.tows(x, y)
        streak = 1 + self.streaks * self._fibres(tows)
        light = self.material.light(tows, streak, x, y)
        tracer = None
        if self.tracer:
            tracer = self.tracer.share(tows)
            light += tracer * (self.material.yarn(tows, streak, light) - light)
        if self.peel:
            light *= self.peel.gain(x, y)
        return light * (1 + 0.03 * self.slow(x / 25, y / 25)), tracer

    def _fibres(self, tows: Tows) -> Field:
        """Streaks: fine across a tow, long along it, and others on the next."""
        pitch = self.cloth.pitch_mm
        across = np.where(tows.is_warp, tows.u, tows.v) * (pitch / (0.05 * max(1, pitch)))
        along = np.where(tows.is_warp, tows.v, tows.u) / 1.6
        number = np.where(tows.is_warp, tows.column, tows.row).astype(np.float32)
        return self.fine(across, along + 17.3 * number)
