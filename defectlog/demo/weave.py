"""What the camera can see of a surface up close: cloth, peel-ply print and bench, as tiles.

Every texture is one seamless tile of three bytes a pixel, so that one look-up of the whole photo
brings all three planes. A tile knows how many millimetres it covers; the photo stretches it.
"""

import enum
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]


class Cloth(enum.Enum):
    """The ply under the surface that is photographed."""

    CARBON_TWILL = "carbon-twill"
    GLASS_PLAIN = "glass-plain"


@dataclass(frozen=True, slots=True)
class Tile:
    """A seamless texture, (N, N, 3) uint8, and how many repeats of its pattern it holds."""

    planes: Bytes
    repeats: int


def smooth_noise(rng: np.random.Generator, shape: tuple[int, int], cells: int) -> Floats:
    """Slow random waves of unit spread, about ``cells`` of them across the longer side."""
    longer = max(shape)
    rows = max(2, round(cells * shape[0] / longer))
    columns = max(2, round(cells * shape[1] / longer))
    coarse = rng.standard_normal((rows + 1, columns + 1)).astype(np.float32)
    return cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _streaks(rng: np.random.Generator, size: int, across_px: float, along_px: float) -> Floats:
    """Seamless noise drawn out along the rows, of unit spread: the filaments of a tow."""
    noise = rng.standard_normal((size, size)).astype(np.float32)
    spectrum = np.fft.rfft2(noise)
    down = np.fft.fftfreq(size)[:, None]
    along = np.fft.rfftfreq(size)[None, :]
    spectrum *= np.exp(-2 * np.pi**2 * ((down * across_px) ** 2 + (along * along_px) ** 2))
    drawn = np.fft.irfft2(spectrum, s=(size, size))
    return (drawn / drawn.std()).astype(np.float32)


def _as_bytes(*planes: Floats) -> Bytes:
    return np.dstack([np.clip(plane * 255 + 0.5, 0, 255).astype(np.uint8) for plane in planes])


def _tows(size: int, tows: int) -> tuple[NDArray[np.intp], Floats]:
    """Which tow each pixel of a line falls in, and where across it, 0–1."""
    at = (np.arange(size, dtype=np.float32) + 0.5) * tows / size
    return at.astype(np.intp), at - np.floor(at)


@lru_cache(maxsize=8)
def cloth_tile(cloth: Cloth) -> Tile:
    """Warp sheen, weft sheen and height of a woven cloth, one repeat being one tow.

    The two sheens are kept apart because raking light favours one direction of fibre.
    """
    rng = np.random.default_rng(811)
    tows, px = (48, 22) if cloth is Cloth.CARBON_TWILL else (64, 16)
    size = tows * px
    column, across_warp = _tows(size, tows)
    row, across_weft = _tows(size, tows)
    i, j = column[None, :], row[:, None]
    u, v = across_warp[None, :], across_weft[:, None]

    if cloth is Cloth.CARBON_TWILL:
        step = (i + j) % 4
        warp_up = step < 2
        # Place along the two-tow float, 0 at one end and 1 at the other.
        along = np.where(warp_up, (step + v) / 2, (step - 2 + u) / 2)
    else:
        warp_up = (i + j) % 2 == 0
        along = np.where(warp_up, v + 0 * u, u + 0 * v)
    across = np.where(warp_up, u + 0 * v, v + 0 * u)

    crown = np.sin(np.pi * np.clip(along, 0, 1)).astype(np.float32) ** 0.7
    round_tow = np.clip(1 - np.abs(2 * across - 1) ** 4, 0, 1).astype(np.float32)
    # The light catches a float on the side that leans towards it.
    caught = np.exp(-(((along - 0.36) / 0.24) ** 2)).astype(np.float32)
    filaments = np.where(
        warp_up,
        _streaks(rng, size, px / 26, px * 1.6).T,
        _streaks(rng, size, px / 26, px * 1.6),
    )
    tow_gain = np.where(
        warp_up,
        rng.normal(1, 0.07, tows)[column][None, :],
        rng.normal(1, 0.07, tows)[row][:, None],
    ).astype(np.float32)
    sheen = (0.34 + 0.3 * crown + 0.36 * caught) * (0.45 + 0.55 * round_tow)
    sheen = sheen * tow_gain * (1 + 0.12 * filaments)
    if cloth is Cloth.CARBON_TWILL:
        sheen = np.clip(sheen, 0, None) ** 1.1
    height = crown * (0.3 + 0.7 * round_tow)

    planes = (np.where(warp_up, sheen, 0), np.where(warp_up, 0, sheen), height)
    return Tile(_as_bytes(*(plane * 0.8 for plane in planes)), tows)


@lru_cache(maxsize=2)
def peel_print_tile() -> Tile:
    """The print that peel ply leaves: slope along x, slope along y, and pits where resin broke."""
    rng = np.random.default_rng(523)
    tows, px = 128, 9
    size = tows * px
    _, across = _tows(size, tows)
    u, v = across[None, :], across[:, None]
    column, row = _tows(size, tows)[0][None, :], _tows(size, tows)[0][:, None]
    over = ((column + row) % 2).astype(np.float32)
    gain = 1 + 0.25 * _streaks(rng, size, px * 1.5, px * 1.5)
    relief = over * np.sin(np.pi * u) + (1 - over) * np.sin(np.pi * v)
    relief = (relief * gain + 0.35 * _streaks(rng, size, 1.2, 1.2)).astype(np.float32)
    slope_x = (np.roll(relief, -1, 1) - np.roll(relief, 1, 1)) * 0.32 + 0.5
    slope_y = (np.roll(relief, -1, 0) - np.roll(relief, 1, 0)) * 0.32 + 0.5
    glints = np.clip(_streaks(rng, size, 1.5, 1.5) - 2.1, 0, 1)
    return Tile(_as_bytes(slope_x, slope_y, glints), tows)


def _plywood(rng: np.random.Generator, size: int) -> Bytes:
    """Rotary-cut veneer: long wavy rings, fine fibre, dark pores, a few ink-thin cracks."""
    row = np.arange(size, dtype=np.float32)[:, None] / size
    bent = row * 16 + 1.5 * _streaks(rng, size, 70, 240) + 0.05 * _streaks(rng, size, 3, 60)
    rings = (bent - np.floor(bent)) ** 2.5
    fibre = _streaks(rng, size, 0.7, 34)
    pores = np.clip(_streaks(rng, size, 0.6, 9) - 1.9, 0, 1.5)
    cracks = np.clip(_streaks(rng, size, 0.6, 80) - 3.0, 0, 1)
    tone = 0.40 * (1 - 0.20 * rings + 0.05 * fibre - 0.16 * pores - 0.5 * cracks)
    tone *= 1 + 0.05 * _streaks(rng, size, 90, 90)
    return _as_bytes(tone * (0.50 - 0.07 * rings), tone * (0.77 - 0.05 * rings), tone)


@lru_cache(maxsize=4)
def bench_tile(kind: str) -> Tile:
    """Blue, green and red of what the part lies on, linear light: plywood, mat or painted steel."""
    rng = np.random.default_rng({"plywood": 11, "mat": 23, "paint": 37}[kind])
    size = 1024
    if kind == "plywood":
        return Tile(_plywood(rng, size), 1)
    if kind == "mat":
        speckle = _streaks(rng, size, 0.8, 0.8)
        stains = _streaks(rng, size, 60, 60)
        tone = 0.075 * (1 + 0.10 * speckle + 0.05 * stains)
        grid = np.zeros((size, size), np.float32)
        grid[:: size // 8, :] = 1
        grid[:, :: size // 8] = 1
        grid = cv2.GaussianBlur(grid, (0, 0), 1.0) * (0.8 + 0.3 * _streaks(rng, size, 20, 20))
        tone = tone + 0.16 * np.clip(grid, 0, 1)
        return Tile(_as_bytes(tone * 0.85, tone * 1.0, tone * 0.55), 1)
    worn = _streaks(rng, size, 40, 40)
    scratches = np.clip(_streaks(rng, size, 0.8, 60) - 2.2, 0, 1)
    tone = 0.24 * (1 + 0.07 * worn + 0.03 * _streaks(rng, size, 1, 1) + 0.5 * scratches)
    return Tile(_as_bytes(tone * 1.02, tone, tone * 0.93), 1)


@lru_cache(maxsize=24)
def shrunk(tile_name: str, side_px: int) -> Bytes:
    """A tile at the size the photo needs, so that fine cloth does not alias."""
    tile = named_tile(tile_name)
    if side_px >= tile.planes.shape[0]:
        return tile.planes
    return cv2.resize(tile.planes, (side_px, side_px), interpolation=cv2.INTER_AREA)


def named_tile(name: str) -> Tile:
    """``peel``, a cloth's value, or a bench kind."""
    if name == "peel":
        return peel_print_tile()
    if name in {cloth.value for cloth in Cloth}:
        return cloth_tile(Cloth(name))
    return bench_tile(name)
