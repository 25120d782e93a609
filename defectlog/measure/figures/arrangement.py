"""How voids lie: against the weave, the edge of the surface and each other, in words."""

import math
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.figures.gathering import gathers_in_parts
from defectlog.measure.figures.spacing import Spacing, clark_evans
from defectlog.measure.lengths.scale import Scale

Kind = Literal["pinhole", "dry patch", "line", "along a tow"]
Arrangement = Literal["scattered", "gathered", "in lines", "on the weave's pitch", "evenly spread"]
FloatArray = NDArray[np.float64]

PATCH_FROM_MM = 3.0
LINE_FROM_MM = 6.0
ALONG_DEG = 15.0
# Of arrows to the nearest neighbour, from which length of their mean on a line is spoken of.
IN_LINES = 0.35
ON_PITCH = 2.0
FEWEST = 12
MOST = 300  # voids, in the middle, that are looked at


def kinds_of(
    words: NDArray[np.object_],
    d_mm: FloatArray,
    longest_mm: FloatArray,
    to_weave_deg: FloatArray | None,
) -> list[Kind]:
    """The kinds that the shapes of n voids propose; the maker decides.

    Parameters
    ----------
    words : (n,) of ``ShapeWord``
    d_mm, longest_mm : (n,), diameter of the circle of the same area, and largest distance across
    to_weave_deg : (n,), angle to the nearer family of tows; None if there is no weave to be seen
    """
    is_long, is_patch = words == "long", d_mm >= PATCH_FROM_MM
    kinds = np.full(len(words), "pinhole", dtype=object)
    kinds[is_patch | (longest_mm >= LINE_FROM_MM)] = "dry patch"
    kinds[is_long] = "line"
    if to_weave_deg is not None:
        kinds[is_long & (to_weave_deg <= ALONG_DEG) & ~is_patch] = "along a tow"
    return kinds.tolist()


def edge_distance(x: FloatArray, y: FloatArray, inspected: BoolImage) -> FloatArray:
    """From each place to the nearest edge of the inspected surface, in its pixels."""
    if inspected.all():
        rows, columns = inspected.shape
        sides = (x + 0.5, columns - 0.5 - x, y + 0.5, rows - 0.5 - y)
        return np.minimum.reduce(sides)
    small = _quarter(inspected)
    walled = cv2.copyMakeBorder(small, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    far = cv2.distanceTransform(walled, cv2.DIST_L2, 5)
    row, column = (
        np.clip(np.rint((place + 0.5) / 4 + 0.5).astype(np.int64), 0, far.shape[axis] - 1)
        for axis, place in ((0, y), (1, x))
    )
    # From the middle of a cell to the middle of the first one outside is half a cell too far.
    return 4.0 * np.maximum(far[row, column].astype(np.float64) - 0.5, 0.0)


def arrangement_of(
    points: FloatArray, z: float, repeats: list[tuple[int, int]], *, gathers: bool = False
) -> Arrangement | None:
    """How voids lie to each other, in words; None for fewer than twelve.

    Parameters
    ----------
    points : (n, 2), x and y in pixels
    z : of the Clark–Evans index, in standard errors
    repeats : of the weave, (rows, columns) in pixels
    gathers : whether more lie in some parts of the surface than in others
    """
    if len(points) < FEWEST:
        return None
    off = points - points.mean(axis=0)
    few = points[np.argsort((off**2).sum(axis=1), kind="stable")[:MOST]].astype(np.float32)
    right, low = (places - places[:, None] for places in few.T)
    distance = np.hypot(right, low)
    np.fill_diagonal(distance, np.inf)
    for down, across in repeats:
        length = math.hypot(down, across)
        turned = (-0.55 * down + 0.83 * across, 0.83 * down + 0.55 * across)
        met, chance = (
            np.mean(((right - u) ** 2 + (low - v) ** 2 < (0.12 * length) ** 2).any(axis=1))
            for u, v in ((across, down), turned)
        )
        if met > 0.4 and met > ON_PITCH * chance:
            return "on the weave's pitch"
    nearest = (np.arange(len(few)), distance.argmin(axis=1))
    angle = np.arctan2(low[nearest], right[nearest])
    if abs(np.mean(np.exp(2j * angle))) > IN_LINES:
        return "in lines"
    if gathers:
        return "gathered"
    if abs(z) < 1.96:
        return "scattered"
    return "gathered" if z < 0 else "evenly spread"


def lying(
    centres: FloatArray,
    surface: Surface,
    scale: Scale,
    surface_mm2: float | None,
    repeats: list[tuple[int, int]],
) -> tuple[Spacing | None, Arrangement | None]:
    """How the voids lie to each other, and in words; None for too few to tell.

    Parameters
    ----------
    centres : (n, 2), x and y in pixels of the picture
    surface : they lie on
    scale : of the picture
    surface_mm2 : area of that surface, None without a scale
    repeats : of the weave, (rows, columns) in worked pixels
    """
    spacing = _spacing(centres, surface, scale, surface_mm2)
    if spacing is None:
        return None, None
    repeats = [(surface.shrink * down, surface.shrink * across) for down, across in repeats]
    worked = (centres + 0.5) / surface.shrink - 0.5
    gathers = gathers_in_parts(worked, surface.inspected)
    return spacing, arrangement_of(centres, spacing.z, repeats, gathers=gathers)


def _spacing(
    centres: FloatArray,
    surface: Surface,
    scale: Scale,
    surface_mm2: float | None,
) -> Spacing | None:
    """The clustering of the voids, in the plane of the surface if that is known."""
    if len(centres) < 2:
        return None
    small = _quarter(surface.inspected)
    edges, _ = cv2.findContours(small, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    outlines = [edge.reshape(-1, 2) * 4.0 * surface.shrink for edge in edges if len(edge) > 2]
    if surface_mm2 is None:
        area = float(surface.inspected_px * surface.shrink**2)
    else:
        centres, area = scale.to_mm(centres), surface_mm2
        outlines = [scale.to_mm(line) for line in outlines]
    around = sum(float(np.hypot(*(line - np.roll(line, 1, axis=0)).T).sum()) for line in outlines)
    return clark_evans(centres, area, perimeter=around)


def _quarter(inspected: BoolImage) -> NDArray[np.uint8]:
    """The surface at a quarter of its size; of one narrower than that, a pixel is left."""
    if min(inspected.shape) < 3:
        missing = [(0, max(0, 4 - side)) for side in inspected.shape]
        inspected = np.pad(inspected, missing, mode="edge")
    return cv2.resize(inspected.view(np.uint8), None, fx=0.25, fy=0.25)
