"""Each void's own outline: halfway in light between the void and the surface around it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import BoolImage, FloatImage

IndexArray = NDArray[np.int32]
FloatArray = NDArray[np.float64]

GROW_PX = 3
# How far about a pixel the surface it is judged against may lie, and how much of it there
# has to be.
REACH_PX = 7
LEAST_SURFACE_PX = 20
# An outline whose contrast takes longer than this to fall from 65 to 35 % is a shadow or
# the flank of a glint, not the edge of a void.
SOFT_EDGE_PX = 2.5
# Unless it is short against the object itself: a blurred picture of a large void. For a hump
# without any plateau it is 0.44 of the radius, less what lies outside the zone.
SOFT_EDGE_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Zone:
    """The pixels of every object and a few beyond, as flat lists.

    ``at`` indexes the flattened picture, ``label`` says which object (0 … n - 1) a pixel is
    nearest to. ``contrast`` is the share of light missing (dark voids) or added (bright
    ones), ``around`` that of the sound surface about the pixel.
    """

    count: int
    at: IndexArray
    label: IndexArray
    contrast: FloatArray
    around: FloatArray


@dataclass(frozen=True, slots=True)
class Rise:
    """How far each pixel of a zone lies from the surface about it (0) to its void (1).

    For each object, ``height`` is the contrast between the two and ``missing`` the sum of
    what its pixels lack against the surface, in pixels of full light.
    """

    share: FloatArray
    height: FloatArray
    missing: FloatArray


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
    for step in range(grow_px):
        front, own = _grown(ground, columns, front, own, square=step % 2 == 1)
        at.append(front)
        label.append(own)
    places, label = np.concatenate(at), np.concatenate(label)
    places -= columns + 1
    places -= 2 * (places // columns)
    kept = label > 0
    if not kept.all():
        places, label = places[kept], label[kept]
    label -= 1
    contrast = sign * (1.0 - ratio.ravel().take(places).astype(np.float64))
    around = sign * (1.0 - _surface_about(places, label, count - 1, ratio, inspected))
    return Zone(count - 1, places, label, contrast, around)


def _surface_about(
    places: IndexArray,
    label: IndexArray,
    count: int,
    ratio: FloatImage,
    inspected: BoolImage,
) -> FloatArray:
    """Mean light of the sound surface near each pixel of a zone.

    Near the pixel, not round the object: a void may reach from a bright tow to a dark one.
    Deep inside a large object, where no surface is near, its edge's mean stands in.
    """
    sound = inspected.astype(np.uint8)
    sound.ravel()[places] = 0
    size = (2 * REACH_PX + 1, 2 * REACH_PX + 1)
    sums = cv2.boxFilter(ratio * sound, cv2.CV_32F, size, normalize=False)
    counts = cv2.boxFilter(sound, cv2.CV_16U, size, normalize=False)
    near = counts.ravel().take(places).astype(np.float64)
    enough = near >= LEAST_SURFACE_PX
    mean = sums.ravel().take(places).astype(np.float64) / np.maximum(near, 1)
    edge = _mean(count, label[enough], mean[enough])
    # An object hemmed in by others has no surface of its own; that is 1 by definition.
    edge = np.where(np.isfinite(edge), edge, 1.0)
    return np.where(enough, mean, edge[label])


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


def rise_of(zone: Zone) -> Rise:
    """Measure how every object rises from the surface.

    What a void is fully like is the mean of the object's upper part, in two rounds: what
    lies beyond half of the way to its strongest pixel, then beyond 70 % of the way to that
    mean.
    """
    n, label = zone.count, zone.label
    plateau = np.full(n, -np.inf)
    np.maximum.at(plateau, label, zone.contrast)
    for share in (0.5, 0.7):
        upper = zone.contrast >= zone.around + share * (plateau[label] - zone.around)
        plateau = _mean(n, label[upper], zone.contrast[upper])
    span = plateau[label] - zone.around
    over = zone.contrast - zone.around
    return Rise(
        share=over / np.maximum(span, 1e-3),
        height=_mean(n, label[upper], span[upper]),
        missing=np.bincount(label, over, minlength=n),
    )


def area_beyond(zone: Zone, rise: Rise, share: float) -> FloatArray:
    """Pixels of each object beyond a share of its rise."""
    return np.bincount(zone.label[rise.share > share], minlength=zone.count).astype(np.float64)


def outlined(zone: Zone, rise: Rise, shape: tuple[int, int]) -> BoolImage:
    """The picture of what lies beyond half of each object's rise."""
    mask = np.zeros(shape[0] * shape[1], dtype=bool)
    mask[zone.at[rise.share > 0.5]] = True
    return mask.reshape(shape)


def edge_width(zone: Zone, rise: Rise, mask: BoolImage) -> FloatArray:
    """Pixels over which each object falls from 65 to 35 % of its rise."""
    spread = area_beyond(zone, rise, 0.35) - area_beyond(zone, rise, 0.65)
    return spread / np.maximum(perimeters(zone, mask), 1.0)


def is_soft(zone: Zone, rise: Rise, mask: BoolImage) -> BoolImage:
    """Whether an object fades out like a shadow rather than ends like a void."""
    edge = edge_width(zone, rise, mask)
    radius = np.sqrt(area_beyond(zone, rise, 0.5) / np.pi)
    return (edge > SOFT_EDGE_PX) & (edge > SOFT_EDGE_SHARE * radius)


def perimeters(zone: Zone, mask: BoolImage) -> FloatArray:
    """Length of each object's outline, from the pixel sides it shows, in pixels.

    Sides counted along rows and columns overrate a smooth outline by 4 / π on the
    average over all directions (Crofton).
    """
    flat, columns = mask.ravel(), mask.shape[1]
    chosen = flat[zone.at]
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
