"""Each void's own outline: halfway in light between the void and the surface around it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import BoolImage, FloatImage

IndexArray = NDArray[np.int32]
FloatArray = NDArray[np.float64]

GROW_PX = 3
RING_PX = 3
# An outline whose contrast takes longer than this to fall from 65 to 35 % is a shadow or
# the flank of a glint, not the edge of a void.
SOFT_EDGE_PX = 2.5
# Unless it is short against the object itself: a blurred picture of a large void. For a hump
# without any plateau it would be 0.44 of the radius.
SOFT_EDGE_SHARE = 0.3


@dataclass(frozen=True, slots=True)
class Zone:
    """The pixels in and around every object, as flat lists.

    ``at`` indexes the flattened picture, ``label`` says which object (0 … n - 1) a pixel is
    nearest to, ``near`` whether it is close enough to be part of it; the others form the
    ring of surface around it. ``contrast`` is the share of light missing (dark voids) or
    added (bright ones).
    """

    count: int
    at: IndexArray
    label: IndexArray
    near: BoolImage
    contrast: FloatArray


@dataclass(frozen=True, slots=True)
class Levels:
    """Contrast of the surface round each object, and of the object itself."""

    around: FloatArray
    plateau: FloatArray

    def at(self, share: float) -> FloatArray:
        """The contrast so far (0–1) of the way from the surface to the void."""
        return self.around + share * (self.plateau - self.around)


def zone_of(
    objects: BoolImage,
    ratio: FloatImage,
    inspected: BoolImage,
    *,
    sign: float,
    grow_px: int = GROW_PX,
) -> Zone:
    """Gather the surroundings of every connected object.

    Parameters
    ----------
    objects : (M, N) bool
    ratio : (M, N) light relative to the even light of the surface
    inspected : (M, N) bool
    sign : 1.0 for dark voids, -1.0 for bright ones
    """
    count, labels = cv2.connectedComponents(objects.view(np.uint8), ltype=cv2.CV_32S)
    # A wall of -1 round the picture, and where nothing is inspected, stops the growth.
    ground = cv2.copyMakeBorder(labels, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=-1)
    if not inspected.all():
        ground[1:-1, 1:-1][~inspected] = -1
    inner = cv2.erode(objects.view(np.uint8), np.ones((3, 3), np.uint8))
    columns = ground.shape[1]
    ground = ground.ravel()
    whole = pixels_of(objects, columns, 1)
    front = pixels_of(objects & (inner == 0), columns, 1)
    own = ground.take(front)
    at, label = [whole], [ground.take(whole)]
    for step in range(grow_px + RING_PX):
        if step == grow_px:
            near_count = sum(len(part) for part in at)
        front, own = _grown(ground, columns, front, own, square=step % 2 == 1)
        at.append(front)
        label.append(own)
    places, label = np.concatenate(at), np.concatenate(label)
    places -= columns + 1
    places -= 2 * (places // columns)
    contrast = sign * (1.0 - ratio.ravel().take(places).astype(np.float64))
    kept = label > 0
    near = np.arange(len(places)) < near_count
    if not kept.all():
        places, label, near, contrast = places[kept], label[kept], near[kept], contrast[kept]
    return Zone(count - 1, places, label - 1, near, contrast)


def pixels_of(mask: BoolImage, columns: int, border: int = 0) -> IndexArray:
    """Where a mask is True, as indices of a flattened picture of so many columns.

    With a border the picture has that many rows and columns more before each of its own.
    """
    found = cv2.findNonZero(mask.view(np.uint8))
    if found is None:
        return np.zeros(0, dtype=np.int32)
    found = found.reshape(-1, 2) + np.int32(border)
    return found[:, 1] * np.int32(columns) + found[:, 0]


def _grown(
    ground: NDArray[np.int32], columns: int, front: IndexArray, own: IndexArray, *, square: bool
) -> tuple[IndexArray, IndexArray]:
    """One step outwards from a front over free ground; who reaches a pixel first keeps it.

    Crosses and squares in turn make an octagon, near enough to a circle.
    """
    offsets = [1, -1, columns, -columns]
    if square:
        offsets += [columns + 1, columns - 1, 1 - columns, -columns - 1]
    places, owners = [], []
    for offset in offsets:
        beside = front + np.int32(offset)
        free = np.flatnonzero(ground.take(beside) == 0)
        reached, owner = beside.take(free), own.take(free)
        ground[reached] = owner
        places.append(reached)
        owners.append(owner)
    return np.concatenate(places), np.concatenate(owners)


def levels_of(zone: Zone) -> Levels:
    """Measure the contrast around and inside every object.

    The plateau is the mean of the object's upper part, in two rounds: what lies beyond half
    of the way to its strongest pixel, then beyond 70 % of the way to that mean.
    """
    n, label, contrast = zone.count, zone.label, zone.contrast
    around = _mean(n, label[~zone.near], contrast[~zone.near])
    # An object hemmed in by others has no ring of its own; the surface is 0 by definition.
    around = np.where(np.isfinite(around), around, 0.0)
    inner, value = label[zone.near], contrast[zone.near]
    plateau = np.full(n, -np.inf)
    np.maximum.at(plateau, inner, value)
    for share in (0.5, 0.7):
        upper = value >= (around + share * (plateau - around))[inner]
        plateau = _mean(n, inner[upper], value[upper])
    return Levels(around, plateau)


def area_at(zone: Zone, level: FloatArray) -> FloatArray:
    """Pixels of each object beyond its level."""
    inside = zone.near & (zone.contrast > level[zone.label])
    return np.bincount(zone.label[inside], minlength=zone.count).astype(np.float64)


def outlined(zone: Zone, level: FloatArray, shape: tuple[int, int]) -> BoolImage:
    """The picture of what lies beyond each object's level."""
    mask = np.zeros(shape[0] * shape[1], dtype=bool)
    mask[zone.at[zone.near & (zone.contrast > level[zone.label])]] = True
    return mask.reshape(shape)


def edge_width(zone: Zone, levels: Levels, mask: BoolImage) -> FloatArray:
    """Pixels over which each object's contrast falls from 65 to 35 %."""
    spread = area_at(zone, levels.at(0.35)) - area_at(zone, levels.at(0.65))
    return spread / np.maximum(perimeters(zone, mask), 1.0)


def is_soft(zone: Zone, levels: Levels, mask: BoolImage) -> BoolImage:
    """Whether an object fades out like a shadow rather than ends like a void."""
    edge = edge_width(zone, levels, mask)
    radius = np.sqrt(area_at(zone, levels.at(0.5)) / np.pi)
    return (edge > SOFT_EDGE_PX) & (edge > SOFT_EDGE_SHARE * radius)


def perimeters(zone: Zone, mask: BoolImage) -> FloatArray:
    """Length of each object's outline, from the pixel sides it shows, in pixels.

    Sides counted along rows and columns overrate a smooth outline by 4 / π on the
    average over all directions (Crofton).
    """
    flat, columns = mask.ravel(), mask.shape[1]
    chosen = flat[zone.at] & zone.near
    at, label = zone.at[chosen], zone.label[chosen]
    sides = np.zeros(len(at))
    for step in (1, -1, columns, -columns):
        beside = np.clip(at + step, 0, flat.size - 1)
        sides += ~flat[beside]
    return np.bincount(label, sides, minlength=zone.count) * np.pi / 4


def _mean(n: int, label: IndexArray, value: FloatArray) -> FloatArray:
    counts = np.bincount(label, minlength=n)
    with np.errstate(invalid="ignore"):
        return np.bincount(label, value, minlength=n) / np.where(counts, counts, np.nan)
