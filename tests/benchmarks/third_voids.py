"""Voids strewn over a face: where each kind lies, and the light that comes out of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import cos, pi, sin, sqrt

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.benchmarks.third_camera import Box, Range, View, log_uniform
from tests.benchmarks.third_cloth import Field, Noise
from tests.benchmarks.third_outlines import Outline, covered, dry_patch, long_void, pinhole
from tests.benchmarks.third_shading import Face

TRIES = 60_000
LEAST_PX2 = 4.0
EDGE_PX = 2
DRY_OVER_EDGE_PX = 60  # the picture's edge may cut dry cloth
COARSE = 4  # the level of the surface is taken from a picture so much smaller


class Kind(StrEnum):
    PINHOLES = "pinholes"
    CLUSTER = "cluster"
    LONG = "long"
    DRY = "dry"
    MIXED = "mixed"


class Look(StrEnum):
    DARK = "dark"
    BRIGHT = "bright"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Voids:
    """What is to be strewn. A pair is drawn anew for each seed, between the two."""

    kind: Kind
    fraction: Range  # of the picture
    d_px: Range = (4, 16)  # diameters, of a disc of the same area
    strength: Range = (0.4, 0.65)  # share of the surface's light that is lost or gained
    look: Look = Look.DARK
    has_glints: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The face as the picture shows it while it is sound, and how light it is about."""

    face: Face
    view: View
    light: Field
    level: Field  # COARSE times smaller
    dark: float  # the darker and the brighter parts of the weave, in levels
    bright: float
    grain: tuple[Noise, Noise]

    @classmethod
    def of(cls, rng: Generator, face: Face, view: View, light: Field) -> "Ground":
        rows, columns = light.shape
        small = cv2.resize(light, (columns // COARSE, rows // COARSE), interpolation=cv2.INTER_AREA)
        side = int(6 * face.cloth.pitch_mm * view.px_per_mm / COARSE) | 1
        level = cv2.blur(small, (side, side))
        dark, bright = np.percentile(small / level, (8, 92)).tolist()
        return cls(face, view, light, level, dark, bright, (Noise.drawn(rng), Noise.drawn(rng)))

    def level_in(self, box: Box) -> float:
        middle = ((side.start + side.stop) // (2 * COARSE) for side in box)
        row, column = (min(at, n - 1) for at, n in zip(middle, self.level.shape, strict=True))
        return float(self.level[row, column])


def strewn(rng: Generator, ground: Ground, voids: Voids) -> tuple[Field, Field]:
    """The light with voids in it, and the share of each pixel that is void."""
    light, cover = ground.light.copy(), np.zeros_like(ground.light)
    taken = np.zeros(cover.shape, np.uint8)
    left_px2 = log_uniform(rng, voids.fraction) * cover.size
    places, kinds = _places(rng, ground.view, voids.kind), _kinds(rng, voids.kind)
    for _ in range(TRIES):
        if left_px2 <= 0:
            break
        kind = next(kinds)
        x_mm, y_mm, turn = _settled(rng, kind, *next(places), ground)
        outline = _outline(rng, kind, voids.d_px, turn, ground.view)
        box = _box(ground.view, x_mm, y_mm, outline, may_be_cut=kind is Kind.DRY)
        if box is None or _is_crowded(taken[box]):
            continue
        inside = covered(outline, x_mm, y_mm, box, ground.view)
        area_px2 = float(inside.sum())
        if area_px2 < LEAST_PX2 or _touches(inside, area_px2, taken[box]):
            continue
        taken[box] |= (inside > 0).astype(np.uint8)
        cover[box] += inside
        own = _own_light(rng, ground, voids, kind, turn, box, inside)
        light[box] += inside * (own - light[box])
        left_px2 -= area_px2
    return light, np.minimum(cover, 1)


def _kinds(rng: Generator, kind: Kind) -> Iterator[Kind]:
    """The kind of each try; a mixture has few dry patches, or they would be all of it."""
    dry = 0
    while True:
        one = kind
        if kind is Kind.MIXED:
            one = (Kind.PINHOLES, Kind.LONG, Kind.DRY)[int(rng.integers(3))]
            if one is Kind.DRY and (dry >= 3 or rng.random() < 0.9):
                one = Kind.PINHOLES
            dry += one is Kind.DRY
        yield one


def _places(rng: Generator, view: View, kind: Kind) -> Iterator[tuple[float, float]]:
    """Places in mm, anywhere in the picture or about centres that change now and then."""
    rows, columns = view.shape
    centre = None
    while True:
        at = rng.uniform(0, columns), rng.uniform(0, rows)
        if kind is Kind.CLUSTER:
            if centre is None or rng.random() < 0.04:
                centre = at
            at = rng.normal(centre, 2.5 * view.px_per_mm).tolist()
        yield view.mm(*at)


def _settled(
    rng: Generator, kind: Kind, x_mm: float, y_mm: float, ground: Ground
) -> tuple[float, float, float]:
    """Where a void comes to lie, in mm, and the way of the tow beside it.

    Most pinholes lie where gaps cross, most long voids in the gap between two tows.
    """
    cloth = ground.face.cloth
    is_warp, is_near = bool(rng.integers(2)), rng.random() < 0.6
    turn = cloth.way_of(is_warp=is_warp)
    if kind is Kind.DRY or not is_near:
        return x_mm, y_mm, turn
    u, v = cloth.uv_of(x_mm, y_mm)
    if kind is not Kind.LONG:
        u, v = (cloth.to_a_gap(at, rng, off=0.05) for at in (u, v))
    elif is_warp:
        u = cloth.to_a_gap(u, rng)
    else:
        v = cloth.to_a_gap(v, rng)
    return *cloth.xy(u, v), turn


def _outline(rng: Generator, kind: Kind, d_px: Range, turn: float, view: View) -> Outline:
    scale = view.px_per_mm
    if kind is Kind.DRY:
        across_mm = rng.uniform(3, 9) * max(1, 12 / scale)
        return dry_patch(rng, min(across_mm, 0.25 * view.shape[0] / scale), turn)
    across_mm = log_uniform(rng, d_px) / scale
    if kind is Kind.LONG:
        return long_void(rng, across_mm, turn, scale)
    return pinhole(rng, across_mm)


def _box(view: View, x_mm: float, y_mm: float, outline: Outline, *, may_be_cut: bool) -> Box | None:
    """The pixels about an outline; none if it lies over the edge as it may not."""
    top, bottom, left, right = view.box(x_mm, y_mm, outline.reach_mm)
    rows, columns = view.shape
    edge = -DRY_OVER_EDGE_PX if may_be_cut else EDGE_PX
    if min(top, left, rows - bottom, columns - right) < edge:
        return None
    return slice(max(top, 0), min(bottom, rows)), slice(max(left, 0), min(right, columns))


def _is_crowded(taken: NDArray[np.uint8]) -> bool:
    """A cheap look at the middle before the outline is worked out."""
    rows, columns = (side // 4 for side in taken.shape)
    return bool(taken[rows : taken.shape[0] - rows, columns : taken.shape[1] - columns].any())


def _touches(inside: Field, area_px2: float, taken: NDArray[np.uint8]) -> bool:
    """Whether a void would lie so near another that nobody could tell the two."""
    apart = 2 * max(2, int(0.12 * sqrt(area_px2))) + 1
    around = cv2.dilate((inside > 0).astype(np.uint8), np.ones((apart, apart), np.uint8))
    return bool((taken & around).any())


def _own_light(
    rng: Generator, ground: Ground, voids: Voids, kind: Kind, turn: float, box: Box, inside: Field
) -> Field:
    """The light of a cavity: its own grey, and some of the cloth's pattern through it."""
    level, cloth = ground.level_in(box), ground.light[box]
    is_carbon = ground.face.is_carbon
    is_dark = voids.look is Look.DARK or (voids.look is Look.BOTH and rng.random() < 0.5)
    strength = rng.uniform(*voids.strength)
    opaque = rng.uniform(0.35, 0.7) if kind is Kind.DRY else rng.uniform(0.6, 1)
    # Against the wide swing of carbon a void is only one beyond its darkest or brightest tows.
    swing = (ground.dark if is_dark else ground.bright) if is_carbon else 1.0
    if is_dark:
        gain, swing_of_cloth = 1 - strength, min(1, swing)
    else:
        gain, swing_of_cloth = 1 + strength * (1.6 if is_carbon else 0.8), max(1, swing)
    own = gain * (opaque * swing * level + (1 - opaque) * swing_of_cloth * cloth)
    if kind is Kind.DRY:
        return own * _fibres(ground, turn, box)
    own = own * _walls(ground.face.lamp.azimuth, box, inside, -0.12 if is_dark else 0.06)
    if voids.has_glints and is_dark and rng.random() < 0.15:
        own = own + 1.3 * level * _glint(box, inside)
    return own


def _fibres(ground: Ground, turn: float, box: Box) -> Field:
    """Bare fibre is streaked along the tow and blotched, about 1."""
    y, x = _pixels(box)
    c, s, scale = cos(turn), sin(turn), ground.view.px_per_mm
    streaks, blotches = ground.grain
    along, across = (c * x + s * y) / (1.5 * scale), (c * y - s * x) / (0.12 * scale)
    return 1 + 0.05 * streaks(along, across) + 0.06 * blotches(x / (0.8 * scale), y / (0.8 * scale))


def _walls(lamp_azimuth: float, box: Box, inside: Field, lean: float) -> Field:
    """A hollow is darker on the lamp's side, a bump brighter there: about 1."""
    x, y = _from_the_middle(box, inside)
    return 1 + lean * (x * cos(lamp_azimuth) + y * sin(lamp_azimuth))


def _glint(box: Box, inside: Field) -> Field:
    """The lamp mirrored in a smooth hollow; in one too small for it nothing shows."""
    if inside.sum() <= pi * 5**2:
        return np.zeros_like(inside)
    x, y = _from_the_middle(box, inside)
    return np.exp(-((x + 0.3) ** 2 + (y - 0.2) ** 2) / (2 * 0.13**2))


def _from_the_middle(box: Box, inside: Field) -> tuple[Field, Field]:
    """Pixels from the middle of a void, in its radii."""
    y, x = _pixels(box)
    area = inside.sum()
    radius = sqrt(area / pi)
    return (x - (x * inside).sum() / area) / radius, (y - (y * inside).sum() / area) / radius


def _pixels(box: Box) -> Field:
    """Rows and columns of the pixels of a box, in the picture."""
    rows, columns = box
    return np.mgrid[rows, columns].astype(np.float32)
