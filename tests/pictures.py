"""Rendered surfaces whose voids are known exactly.

Light is drawn linearly, at twice the size of the picture, and shrunk by averaging: cloth
(wandering tows over and under each other, gaps at the crossings), uneven light, glare,
voids as discs, ellipses and ragged patches. Lens blur, sensor noise, gamma and the
rounding to 8 bits come after, as in a camera. Rendered is not photographed: there is no
lens distortion, no moiré and no phone's own smoothing.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

FINE = 2  # pixels drawn along the side of one of the picture
FloatImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One void as it was drawn: pixels of the picture."""

    x: float
    y: float
    area: float

    @property
    def diameter(self) -> float:
        return 2 * math.sqrt(self.area / math.pi)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture (grey, uint8) and the truth about it.

    ``cover`` is the share of each pixel that is void.
    """

    grey: NDArray[np.uint8]
    cover: FloatImage
    voids: tuple[Drawn, ...]
    px_per_mm: float

    @property
    def fraction(self) -> float:
        return float(self.cover.mean(dtype=np.float64))


@dataclass(frozen=True)
class Surface:
    """What to draw. Lengths in mm, light as shares of full white."""

    size_mm: tuple[float, float] = (90.0, 70.0)  # width, height
    px_per_mm: float = 12.0
    light: float = 0.25
    weave: float = 0.15  # how much light the cloth swings, peak to middle, as a share
    tow_mm: float = 2.0
    weave_deg: float = 0.0
    gap: float = 0.0  # how much darker the gaps at the crossings are
    two_tone: float = 0.0  # warp brighter, weft darker by this share, as carbon is
    rake: float = 0.0  # light falls off to one side by this share
    glare: float = 0.0  # strength of a soft glint, in lights of the surface
    tracer: float = 0.0  # contrast of a tracer yarn every 12 tows
    fraction: float = 0.0
    diameters_mm: tuple[float, float] = (0.3, 1.2)
    patches: int = 0  # ragged dry patches
    elongation: float = 1.0
    contrast: float = 0.55  # share of light a void takes away (below 0: adds)
    contrast_spread: float = 0.0
    shows: float = 0.3  # how much of the cloth shows through in a void
    gloss: float = 0.0  # a window mirrored in the resin, in lights of the surface; voids are matt
    blur_px: float = 0.9
    noise: float = 0.006
    jpeg: int | None = 92
    tilt_deg: float = 0.0  # seen aslant, about an upright axis
    seed: int = 0
    extra: Callable[[FloatImage, float], None] | None = field(default=None)


@lru_cache(maxsize=32)
def render(surface: Surface) -> Picture:
    """Draw a surface and photograph it. What is asked for again is the same picture."""
    rng = np.random.default_rng([surface.seed, 20])
    fine = surface.px_per_mm * FINE
    width, height = (round(side * surface.px_per_mm) * FINE for side in surface.size_mm)
    light = _cloth(surface, (height, width), rng)
    cover, strength, voids = _voids(surface, (height, width), rng)
    # A void has a light of its own; the cloth shows through it only faintly.
    own = (1 - strength) * (1 + surface.shows * (light - 1))
    light += cover * (own - light)
    if surface.extra is not None:
        surface.extra(light, fine)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    if surface.gloss:
        light += surface.gloss * _window(x, y, surface.seed) * (1 - 0.85 * cover)
    if surface.rake:
        light *= 1 + surface.rake * (0.7 * x + 0.25 * y - 0.2 * x * x)
    px_per_mm = surface.px_per_mm
    if surface.tilt_deg:
        light, cover, voids, zoom = _aslant(light, cover, voids, surface.tilt_deg)
        px_per_mm *= zoom
    light = _shrink(light) * surface.light
    if surface.glare:
        y, x = y[::FINE, ::FINE], x[::FINE, ::FINE]
        spot = np.exp(-(((x - 0.45) / 0.22) ** 2) - ((y + 0.3) / 0.28) ** 2)
        light += surface.glare * surface.light * spot.astype(np.float32)
    grey = photograph(light, surface, rng)
    return Picture(grey, _shrink(cover), tuple(voids), px_per_mm)


def _window(x: FloatImage, y: FloatImage, seed: int) -> FloatImage:
    """What mirrors a room: a window of soft sides, one pane brighter, and the dim rest."""
    rng = np.random.default_rng([seed, 21])
    turn, (at_x, at_y) = rng.uniform(0, math.pi), rng.uniform(-0.4, 0.4, 2)
    along = (x - at_x) * math.cos(turn) + (y - at_y) * math.sin(turn)
    aside = (y - at_y) * math.cos(turn) - (x - at_x) * math.sin(turn)
    aside = aside + 0.05 * np.sin(7 * along + rng.uniform(0, 6))  # no laid surface is a mirror
    box = 1 / (1 + np.exp((np.abs(along) - 0.55) / 0.06) + np.exp((np.abs(aside) - 0.3) / 0.06))
    return (0.3 + box * (0.6 + 0.4 * np.tanh(aside / 0.08))).astype(np.float32)


def _aslant(
    light: FloatImage, cover: FloatImage, voids: list[Drawn], tilt_deg: float
) -> tuple[FloatImage, FloatImage, list[Drawn], float]:
    """The surface turned about an upright axis, and a little nearer so that it fills the view."""
    height, width = light.shape
    turn = math.radians(tilt_deg)
    focal = 1.25 * width
    near = 1.15 * (1 + 0.5 * width * math.sin(turn) / focal)
    middle = np.array([[1, 0, (width - 1) / 2], [0, 1, (height - 1) / 2], [0, 0, 1.0]])
    tilt = np.array([[near * math.cos(turn), 0, 0], [0, near, 0], [math.sin(turn) / focal, 0, 1.0]])
    seen = middle @ tilt @ np.linalg.inv(middle)
    size = (width, height)
    light = cv2.warpPerspective(light, seen, size, borderMode=cv2.BORDER_REFLECT)
    cover = cv2.warpPerspective(cover, seen, size, borderMode=cv2.BORDER_REFLECT)
    kept = []
    for void in voids:
        x, y = FINE * (void.x + 0.5) - 0.5, FINE * (void.y + 0.5) - 0.5
        u, v, w = seen @ (x, y, 1.0)
        area = void.area * abs(np.linalg.det(seen)) / w**3
        u, v = ((place / w + 0.5) / FINE - 0.5 for place in (u, v))
        if 0 <= u < width / FINE - 1 and 0 <= v < height / FINE - 1:
            kept.append(Drawn(u, v, area))
    return light, cover, kept, near * math.sqrt(math.cos(turn))


def hairs(light: FloatImage, fine: float) -> None:
    """Some hairs of 0.08 mm, bent, that take half of the light."""
    _strokes(light, fine, count=6, width_mm=0.08, factor=0.5, bend=1.0)


def scratches(light: FloatImage, fine: float) -> None:
    """Scratches of 0.1 mm that glint."""
    _strokes(light, fine, count=6, width_mm=0.1, factor=1.5, bend=0.05)


def wrinkles(light: FloatImage, fine: float) -> None:
    """Folds of a film, 3 mm wide, a bright flank and a dark one, fading out softly."""
    rng = np.random.default_rng(78)
    rows, columns = light.shape
    y, x = np.mgrid[:rows, :columns].astype(np.float32)
    for _ in range(4):
        turn, at = rng.uniform(0, math.pi), rng.uniform(0.2, 0.8, 2) * (columns, rows)
        off = (x - at[0]) * math.cos(turn) + (y - at[1]) * math.sin(turn)
        off += 2 * fine * np.sin(((y - at[1]) * math.cos(turn)) / (12 * fine))
        off /= 1.5 * fine
        light *= 1 + 0.25 * off * np.exp(0.5 - 0.5 * off**2)


def _strokes(
    light: FloatImage, fine: float, *, count: int, width_mm: float, factor: float, bend: float
) -> None:
    rng = np.random.default_rng(77)
    drawn = np.zeros(light.shape, np.uint8)
    for _ in range(count):
        at = rng.uniform(0.1, 0.9, 2) * light.shape[::-1]
        heading, path = rng.uniform(0, 2 * math.pi), [at]
        for _ in range(12):
            heading += bend * rng.normal(0, 0.35)
            at = at + 2.5 * fine * np.array([math.cos(heading), math.sin(heading)])
            path.append(at)
        thick = max(1, round(width_mm * fine))
        cv2.polylines(drawn, [np.round(path).astype(np.int32)], False, 1, thick, cv2.LINE_8)
    light *= np.where(drawn > 0, np.float32(factor), np.float32(1))


def photograph(light: FloatImage, surface: Surface, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Blur, noise, gamma, 8 bits and JPEG."""
    if surface.blur_px:
        light = cv2.GaussianBlur(light, (0, 0), surface.blur_px)
    # Shot noise grows with the root of the light; noise is given at the surface's light.
    grain = np.sqrt(np.maximum(light, 0) / surface.light) * 0.7 + 0.3
    light = light + surface.noise * grain * rng.standard_normal(light.shape, dtype=np.float32)
    grey = np.round(np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)
    if surface.jpeg:
        coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, surface.jpeg])[1]
        grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return grey


def _shrink(fine: FloatImage) -> FloatImage:
    size = (fine.shape[1] // FINE, fine.shape[0] // FINE)
    return cv2.resize(fine, size, interpolation=cv2.INTER_AREA)


def _cloth(surface: Surface, shape: tuple[int, int], rng: np.random.Generator) -> FloatImage:
    """Twill: warp and weft tows that wander and differ, light swinging across each."""
    fine = surface.px_per_mm * FINE
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    turn = math.radians(surface.weave_deg)
    u = (x * math.cos(turn) + y * math.sin(turn)) / fine / surface.tow_mm
    v = (y * math.cos(turn) - x * math.sin(turn)) / fine / surface.tow_mm
    u += 0.08 * np.sin(0.21 * v + 1.3) + 0.05 * np.sin(0.53 * v)
    v += 0.08 * np.sin(0.19 * u + 0.4) + 0.05 * np.sin(0.47 * u)
    column, row = np.floor(u).astype(np.int32), np.floor(v).astype(np.int32)
    over = (column + row) % 4 < 2
    across = np.where(over, u - column, v - row)
    gains = 1 + 0.25 * surface.weave * rng.standard_normal(4096).astype(np.float32)
    gain = np.where(over, gains[column % 4096], gains[(row + 1777) % 4096])
    cloth = 1 + surface.weave * (np.sin(math.pi * across) - 0.64)
    cloth *= gain
    if surface.two_tone:
        cloth *= np.where(over, 1 + surface.two_tone, 1 - surface.two_tone)
    if surface.gap:
        du, dv = u - np.round(u), v - np.round(v)
        cloth *= 1 - surface.gap * np.exp(-(du**2 + dv**2) / 0.012)
    if surface.tracer:
        cloth *= np.where(over & (column % 12 == 5), 1 - surface.tracer, 1)
    # Fibre texture: fine, along nothing in particular.
    grain = rng.standard_normal((shape[0] // 4 + 1, shape[1] // 4 + 1)).astype(np.float32)
    grain = cv2.resize(grain, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return (cloth * (1 + 0.02 * grain)).astype(np.float32)


def _voids(
    surface: Surface, shape: tuple[int, int], rng: np.random.Generator
) -> tuple[FloatImage, FloatImage, list[Drawn]]:
    """Voids that do not touch, until their fraction is reached."""
    fine = surface.px_per_mm * FINE
    cover = np.zeros(shape, np.uint8)
    strength = np.zeros(shape, np.float32)
    taken = np.zeros((shape[0] // 4 + 1, shape[1] // 4 + 1), np.uint8)
    voids: list[Drawn] = []
    wanted, drawn = surface.fraction * shape[0] * shape[1], 0
    low, high = surface.diameters_mm
    tries = 0
    while drawn < wanted and tries < 30_000:
        tries += 1
        ragged = len(voids) < surface.patches
        size = (
            rng.uniform(6, 14) if ragged else math.exp(rng.uniform(math.log(low), math.log(high)))
        )
        a = size * fine / 2 * math.sqrt(surface.elongation)
        b = size * fine / 2 / math.sqrt(surface.elongation)
        reach = int(max(a, b) * 1.5) + 4 * FINE
        if 2 * reach >= min(shape):
            continue
        cx = int(rng.integers(reach, shape[1] - reach))
        cy = int(rng.integers(reach, shape[0] - reach))
        spot = (slice((cy - reach) // 4, (cy + reach) // 4 + 1),) + (
            slice((cx - reach) // 4, (cx + reach) // 4 + 1),
        )
        if taken[spot].any():
            continue
        box = (slice(cy - reach, cy + reach), slice(cx - reach, cx + reach))
        inside = _blob(reach, a, b, rng, ragged=ragged)
        own = surface.contrast * (1 + surface.contrast_spread * float(rng.standard_normal()))
        cover[box] |= inside
        strength[box][inside > 0] = own
        taken[spot] = 1
        area = int(np.count_nonzero(inside))
        drawn += area
        voids.append(Drawn((cx + 0.5) / FINE - 0.5, (cy + 0.5) / FINE - 0.5, area / FINE**2))
    return cover.astype(np.float32), strength, voids


def _blob(
    reach: int, a: float, b: float, rng: np.random.Generator, *, ragged: bool
) -> NDArray[np.uint8]:
    y, x = np.mgrid[-reach:reach, -reach:reach].astype(np.float32)
    # Off the grid, so that no two discs of a size fall on the pixels alike.
    x, y = x + rng.uniform(-0.5, 0.5), y + rng.uniform(-0.5, 0.5)
    turn = rng.uniform(0, math.pi)
    along, across = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    edge = np.float32(1.0)
    if ragged:
        angle = np.arctan2(across, along)
        edge = 1 + 0.14 * np.sin(3 * angle + rng.uniform(0, 6)) + 0.1 * np.sin(7 * angle)
        edge = edge + 0.05 * np.sin(13 * angle + rng.uniform(0, 6))
    return ((along / a) ** 2 + (across / b) ** 2 <= edge**2).astype(np.uint8)


# What the accuracy of measuring is judged on: every case a maker's photo may be like.
CASES: dict[str, Surface] = {
    "easy": Surface(fraction=0.03, rake=0.1),
    "sound": Surface(rake=0.2),
    "sound carbon": Surface(light=0.07, two_tone=0.3, weave=0.25, gap=0.3, noise=0.003, seed=1),
    "sound, glare": Surface(glare=2.5, rake=0.3, seed=2),
    "sound, tracer": Surface(tracer=0.3, weave=0.1, seed=3),
    "sound, coarse": Surface(px_per_mm=4, size_mm=(200, 150), seed=4),
    "sound, gelcoat": Surface(weave=0.0, rake=0.4, seed=5),
    "uneven light": Surface(fraction=0.03, rake=0.6, seed=6),
    "glare": Surface(fraction=0.04, glare=2.5, rake=0.2, seed=7),
    "weave at 45°": Surface(fraction=0.025, weave_deg=45, seed=8),
    "faint": Surface(fraction=0.03, contrast=0.25, weave=0.06, rake=0.3, seed=9),
    "very faint": Surface(fraction=0.03, contrast=0.12, weave=0.02, rake=0.3, noise=0.004, seed=10),
    "pinholes": Surface(fraction=0.01, diameters_mm=(0.25, 0.66), seed=11),
    "pinholes, mixed": Surface(
        fraction=0.01, diameters_mm=(0.25, 0.66), contrast_spread=0.12, seed=12
    ),
    "coarse": Surface(fraction=0.02, px_per_mm=5, size_mm=(180, 140), diameters_mm=(0.6, 2.5)),
    "dense": Surface(fraction=0.12, diameters_mm=(0.4, 2.4), patches=4, seed=13),
    "bright on carbon": Surface(
        light=0.07, two_tone=0.25, weave=0.2, contrast=-1.2, fraction=0.03, noise=0.003, seed=14
    ),
    "dark on carbon": Surface(
        light=0.07, two_tone=0.25, weave=0.2, contrast=0.7, fraction=0.03, noise=0.003, seed=15
    ),
    "dry patches": Surface(fraction=0.10, patches=6, diameters_mm=(0.4, 2), seed=16),
    "pale dry patches": Surface(
        fraction=0.08, patches=5, contrast=-0.7, diameters_mm=(0.4, 2), seed=17
    ),
    "long voids": Surface(fraction=0.03, elongation=5, diameters_mm=(0.5, 1.5), seed=18),
    "soft picture": Surface(fraction=0.03, blur_px=1.8, seed=19),
    "tracer": Surface(fraction=0.02, tracer=0.3, weave=0.1, seed=20),
    "trace": Surface(fraction=0.001, diameters_mm=(0.4, 1.0), seed=21),
    "a lone void": Surface(fraction=0.0001, diameters_mm=(1.2, 1.25), seed=22),
    "6 px/mm": Surface(px_per_mm=6, fraction=0.03, diameters_mm=(0.5, 2), seed=23),
    "20 px/mm": Surface(px_per_mm=20, size_mm=(70, 50), fraction=0.04, rake=0.3, seed=24),
    "40 px/mm": Surface(
        px_per_mm=40, size_mm=(40, 30), fraction=0.03, diameters_mm=(0.15, 1), rake=0.2, seed=25
    ),
    "sound, 40 px/mm": Surface(px_per_mm=40, size_mm=(40, 30), gap=0.2, seed=26),
    "a seventh": Surface(
        fraction=0.15, diameters_mm=(0.5, 3), patches=10, size_mm=(120, 90), seed=27
    ),
    "tilted 15°": Surface(fraction=0.03, tilt_deg=15, rake=0.3, seed=28),
    "sound, tilted": Surface(tilt_deg=15, rake=0.3, gap=0.2, seed=29),
    "hairs": Surface(fraction=0.01, extra=hairs, seed=30),
    "sound, hairs": Surface(extra=hairs, seed=31),
    "scratches": Surface(fraction=0.01, extra=scratches, seed=32),
    "sound, scratches": Surface(extra=scratches, rake=0.3, seed=33),
    "wrinkles": Surface(fraction=0.015, extra=wrinkles, seed=34),
    "sound, wrinkles": Surface(extra=wrinkles, rake=0.3, seed=35),
    "strong": Surface(fraction=0.03, contrast=0.92, rake=0.3, seed=36),
    "strong on carbon": Surface(
        light=0.06,
        two_tone=0.3,
        weave=0.3,
        gap=0.3,
        contrast=0.9,
        fraction=0.0095,
        diameters_mm=(0.35, 1.2),
        noise=0.003,
        seed=37,
    ),
    "sparse on carbon": Surface(
        light=0.06,
        two_tone=0.3,
        weave=0.25,
        gap=0.3,
        contrast=0.8,
        fraction=0.003,
        noise=0.003,
        seed=38,
    ),
    "glare on carbon": Surface(
        light=0.07,
        two_tone=0.25,
        weave=0.2,
        contrast=-1.2,
        fraction=0.03,
        glare=3.0,
        noise=0.003,
        seed=39,
    ),
    "mixed contrast": Surface(fraction=0.03, contrast=0.5, contrast_spread=0.3, seed=40),
    "very blurred": Surface(fraction=0.03, blur_px=3.0, diameters_mm=(0.6, 2), seed=41),
    "sound, very blurred": Surface(blur_px=3.0, gap=0.2, seed=42),
    "grainy": Surface(fraction=0.03, noise=0.03, light=0.15, contrast=0.5, seed=43),
    "poor JPEG": Surface(fraction=0.02, jpeg=40, seed=44),
    "bright pinholes": Surface(fraction=0.01, contrast=-0.6, diameters_mm=(0.3, 0.8), seed=45),
    "matt patch on carbon": Surface(
        light=0.07,
        two_tone=0.12,
        weave=0.15,
        gap=0.2,
        gloss=0.25,
        contrast=-0.5,
        shows=0.7,
        fraction=1e-4,
        patches=1,
        size_mm=(110, 80),
        noise=0.003,
        seed=46,
    ),
    "sound carbon, gloss": Surface(
        light=0.07, two_tone=0.2, weave=0.2, gap=0.2, gloss=0.4, rake=0.3, noise=0.003, seed=47
    ),
    "patches alone": Surface(
        fraction=0.012, patches=3, contrast=-0.5, shows=0.8, weave=0.2, rake=0.4, seed=48
    ),
}
