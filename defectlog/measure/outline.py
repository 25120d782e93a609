"""Each void's own outline: halfway in light between the void and the surface around it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.light import ONE, BoolImage, FloatImage, RatioImage, as_ratio

IndexArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
LabelImage = NDArray[np.int32]

GROW_PX = 3
# How far about a pixel the surface it is judged against may lie, and how much of it there
# has to be.
REACH_PX = 7
LEAST_SURFACE_PX = 20
LEVELS = (0.35, 0.5, 0.65)  # of the rise, at which areas are taken
# An outline whose contrast takes longer than this to fall from 65 to 35 % is a shadow or
# the flank of a glint, not the edge of a void.
SOFT_EDGE_PX = 2.5
# Unless it is short against the object itself: a blurred picture of a large void. For a hump
# without any plateau it is 0.44 of the radius, less what lies outside the zone.
SOFT_EDGE_SHARE = 0.2
GLINT_SHARE = 0.4  # of its pore, that all glints in it take up at most


@dataclass(frozen=True, slots=True)
class Zone:
    """The pixels of every object and a few beyond, as flat lists.

    ``at`` indexes the flattened picture, ``label`` says which object (0 … n - 1) a pixel is
    nearest to; the first ``own`` of them are the objects themselves. ``edge`` and
    ``edge_label`` are those of them that touch what is no object. ``contrast`` is the share
    of light missing (dark voids) or added (bright ones), ``around`` that of the sound surface
    about the pixel. ``ground`` is the picture of ``label`` + 1, 0 and less outside; ``sound``
    the mean light of the sound surface at half the size, 0 where too little is near.
    """

    count: int
    at: IndexArray
    label: IndexArray
    own: int
    edge: IndexArray
    edge_label: IndexArray
    contrast: NDArray[np.float32]
    around: NDArray[np.float32]
    ground: LabelImage
    objects: BoolImage
    sound: RatioImage


@dataclass(frozen=True, slots=True)
class Rise:
    """How far each pixel of a zone lies from the surface about it (0) to its void (1).

    For each object, ``height`` is the contrast between the two, ``around`` that of the
    surface (see ``Zone``), and ``missing`` the sum of
    what its pixels lack against the surface, in pixels of full light; ``areas`` are its
    pixels beyond 35, 50 and 65 % of the rise.
    """

    share: NDArray[np.float32]
    height: FloatArray
    missing: FloatArray
    around: FloatArray
    areas: FloatArray  # (n, 3)

    @property
    def counted(self) -> FloatArray:
        """Pixels of each object beyond half of its rise."""
        return self.areas[:, 1]

    @property
    def spread(self) -> FloatArray:
        """Pixels of each object between 35 and 65 % of its rise."""
        return self.areas[:, 0] - self.areas[:, 2]


@dataclass(frozen=True, slots=True)
class Numbered:
    """The connected objects of a mask: ``labels`` is 0 for none, else which, from 1."""

    count: int
    labels: LabelImage
    at: IndexArray


def numbered(objects: BoolImage) -> Numbered:
    """Number the objects of a mask; pixels that touch at a corner belong together."""
    count, labels = cv2.connectedComponents(objects.view(np.uint8), ltype=cv2.CV_32S)
    return Numbered(count - 1, labels, pixels_of(objects, objects.shape[1]))


def zone_of(
    objects: BoolImage,
    ratio: RatioImage | FloatImage,
    inspected: BoolImage,
    *,
    sign: float,
    grow_px: int = GROW_PX,
    known: Numbered | None = None,
    sound: RatioImage | None = None,
) -> Zone:
    """Gather the surroundings of every connected object.

    Parameters
    ----------
    objects : (M, N) bool, within what is inspected
    ratio : (M, N) light relative to the even light of the surface
    inspected : (M, N) bool
    sign : 1.0 for dark voids, -1.0 for bright ones
    known : the objects numbered, if they have been; its labels are written into
    sound : of a zone of much the same objects, if there was one
    """
    known = numbered(objects) if known is None else known
    count, ground, at = known.count, known.labels, known.at
    columns = ground.shape[1]
    edge = edge_of(objects, columns)
    own = len(at)
    flat = ground.ravel()
    label, edge_label = flat.take(at), flat.take(edge)
    # A wall of -1 along the sides of the picture, and where nothing is inspected, stops growth.
    if not inspected.all():
        np.copyto(ground, -1, where=~inspected)
    for side in (ground[0], ground[-1], ground[:, 0], ground[:, -1]):
        side[side == 0] = -1
    front, owner = _off_the_sides(edge, edge_label, ground.shape)
    places, labels = [at], [label]
    for step in range(grow_px):
        front, owner = _grown(flat, columns, front, owner, square=step % 2 == 1)
        places.append(front)
        labels.append(owner)
    at, label = np.concatenate(places), np.concatenate(labels, dtype=np.int64)
    edge_label = edge_label.astype(np.int64)
    label -= 1
    edge_label -= 1
    if sound is None:
        sound = _sound_light(at, ratio, inspected)
    contrast = as_ratio(ratio.ravel().take(at))
    around = _surface_about(at, label, count, sound, columns)
    for light in (contrast, around):
        np.subtract(np.float32(1), light, out=light)
        if sign < 0:
            np.negative(light, out=light)
    return Zone(count, at, label, own, edge, edge_label, contrast, around, ground, objects, sound)


def _sound_light(
    places: IndexArray, ratio: RatioImage | FloatImage, inspected: BoolImage
) -> RatioImage:
    """Mean light of the sound surface near, at half the size; 0 where too little is near.

    Near the pixel, not round the object: a void may reach from a bright tow to a dark one.
    """
    sound = inspected.astype(np.uint8)
    sound.ravel()[places] = 0
    # At half the size: what is averaged over 15 pixels hardly changes from one to the next.
    rows, columns = sound.shape
    half = ((columns + 1) // 2, (rows + 1) // 2)
    light = as_ratio(cv2.resize(ratio, half, interpolation=cv2.INTER_AREA))
    clear = cv2.erode(sound, np.ones((2, 2), np.uint8), anchor=(0, 0))
    clear = cv2.resize(clear, half, interpolation=cv2.INTER_NEAREST)
    size = (REACH_PX, REACH_PX)
    light = cv2.boxFilter(cv2.copyTo(light, clear), cv2.CV_32F, size, normalize=False)
    near = cv2.boxFilter(clear, cv2.CV_32F, size, normalize=False)
    cv2.divide(light, near, dst=light)
    light[near < LEAST_SURFACE_PX / 4] = 0
    return cv2.multiply(light, ONE, dtype=cv2.CV_16U)


def _surface_about(
    places: IndexArray,
    label: NDArray[np.int64],
    count: int,
    sound: RatioImage,
    columns: int,
) -> NDArray[np.float32]:
    """Mean light of the sound surface near each pixel of a zone.

    Deep inside a large object, where no surface is near, its edge's mean stands in.
    """
    wide = cv2.resize(sound, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    mean = as_ratio(np.ascontiguousarray(wide[:, :columns]).ravel().take(places))
    lacking = np.flatnonzero(mean == 0)
    if len(lacking):
        without = label.take(lacking)
        few = np.zeros(count, dtype=bool)
        few[without] = True
        pixels = np.flatnonzero(few.take(label) & (mean > 0))
        edge = _mean(count, label.take(pixels), mean.take(pixels))
        # An object hemmed in by others has no surface of its own; that is 1 by definition.
        edge = np.where(np.isfinite(edge), edge, 1.0).astype(np.float32)
        mean[lacking] = edge.take(without)
    return mean


def pixels_of(mask: BoolImage, columns: int) -> IndexArray:
    """Where a mask is True, as indices of the flattened picture of so many columns."""
    found = cv2.findNonZero(mask.view(np.uint8))
    if found is None:
        return np.zeros(0, dtype=np.int64)
    found = found.reshape(-1, 2)
    flat = found[:, 1].astype(np.int64)
    flat *= columns
    flat += found[:, 0]
    return flat


def edge_of(mask: BoolImage, columns: int) -> IndexArray:
    """Pixels of a mask with one beside them, at a side or corner, that is not of it."""
    inner = cv2.erode(mask.view(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    return pixels_of(cv2.bitwise_xor(mask.view(np.uint8), inner).view(np.bool_), columns)


def _off_the_sides(
    front: IndexArray, owner: NDArray[np.int32], shape: tuple[int, int]
) -> tuple[IndexArray, NDArray[np.int32]]:
    """A front without the pixels that lie along the sides of the picture."""
    row, column = np.divmod(front, shape[1])
    inside = (row > 0) & (row < shape[0] - 1) & (column > 0) & (column < shape[1] - 1)
    return front[inside], owner[inside]


def _grown(
    ground: NDArray[np.int32],
    columns: int,
    front: IndexArray,
    owner: NDArray[np.int32],
    *,
    square: bool,
) -> tuple[IndexArray, NDArray[np.int32]]:
    """One step outwards from a front over free ground; who reaches a pixel first keeps it.

    Crosses and squares in turn make an octagon, near enough to a circle.
    """
    offsets = [1, -1, columns, -columns]
    if square:
        offsets += [columns + 1, columns - 1, 1 - columns, -columns - 1]
    places, owners = [], []
    for offset in offsets:
        beside = front + offset
        free = np.flatnonzero(ground.take(beside) == 0)
        reached, by = beside.take(free), owner.take(free)
        ground[reached] = by
        places.append(reached)
        owners.append(by)
    return np.concatenate(places), np.concatenate(owners)


def rise_of(zone: Zone) -> Rise:
    """Measure how every object rises from the surface.

    What a void is fully like is the mean of the object's upper part, in two rounds: what
    lies beyond half of the way to its strongest pixel, then beyond 70 % of the way to that
    mean.
    """
    n, label = zone.count, zone.label
    plateau = np.full(n, -np.inf, dtype=np.float32)
    np.maximum.at(plateau, label[: zone.own], zone.contrast[: zone.own])
    for share in (0.5, 0.7):
        limit = plateau.take(label)
        limit *= np.float32(share)
        limit += np.float32(1 - share) * zone.around
        upper = np.flatnonzero(zone.contrast >= limit)
        upper_label, values = label.take(upper), zone.contrast.take(upper)
        plateau = _mean(n, upper_label, values).astype(np.float32)
    around = _mean(n, upper_label, zone.around.take(upper))
    height = plateau - around
    span = plateau.take(label)
    span -= zone.around
    np.maximum(span, np.float32(1e-3), out=span)
    over = zone.contrast - zone.around
    missing = np.bincount(label, over, minlength=n)
    over /= span
    level = sum((over > np.float32(limit)).view(np.int8) for limit in LEVELS)
    classes = len(LEVELS) + 1
    code = label * classes
    code += level
    counts = np.bincount(code, minlength=n * classes).reshape(n, classes)
    areas = counts[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:].astype(np.float64)
    return Rise(share=over, height=height, missing=missing, around=around, areas=areas)


def outlined(zone: Zone, rise: Rise, shape: tuple[int, int]) -> BoolImage:
    """The picture of what lies beyond half of each object's rise."""
    mask = np.zeros(shape[0] * shape[1], dtype=bool)
    mask[zone.at[np.flatnonzero(rise.share > 0.5)]] = True
    return mask.reshape(shape)


def fill_glints(mask: BoolImage) -> IndexArray:
    """Fill what is wholly inside an object and smaller than the rest of it, in place.

    Returns
    -------
    Where that was, as indices of the flattened mask: a glint in a pore is part of the pore.
    """
    outlines, tree = cv2.findContours(mask.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if tree is None:
        return np.zeros(0, dtype=np.int64)
    parent = tree[0, :, 3]
    inner = np.flatnonzero(parent >= 0)
    enclosed = np.zeros(len(outlines))
    for k in inner.tolist():
        enclosed[parent[k]] += cv2.contourArea(outlines[k])
    filled = [np.zeros(0, dtype=np.int64)]
    for k in inner.tolist():
        # The inner outline runs along the object's own pixels, one outside the hole.
        if enclosed[parent[k]] > GLINT_SHARE * cv2.contourArea(outlines[parent[k]]):
            continue
        x, y, width, height = cv2.boundingRect(outlines[k])
        hole = np.zeros((height, width), np.uint8)
        cv2.drawContours(hole, outlines, k, 1, -1, offset=(-x, -y))
        window = mask[y : y + height, x : x + width]
        row, column = np.nonzero((hole > 0) & ~window)
        window[row, column] = True
        filled.append((row + y) * mask.shape[1] + column + x)
    return np.concatenate(filled)


def edge_width(rise: Rise, perimeter_px: FloatArray) -> FloatArray:
    """Pixels over which each object falls from 65 to 35 % of its rise."""
    return rise.spread / np.maximum(perimeter_px, 1.0)


def is_soft(edge_px: FloatArray, half_px: FloatArray) -> BoolImage:
    """Whether an object fades out like a shadow rather than ends like a void.

    Parameters
    ----------
    edge_px : from ``edge_width``
    half_px : half the width of the object, where it is at half its rise
    """
    return (edge_px > SOFT_EDGE_PX) & (edge_px > SOFT_EDGE_SHARE * half_px)


def perimeters(zone: Zone, mask: BoolImage) -> FloatArray:
    """Length of each object's outline, from the pixel sides it shows, in pixels.

    Sides counted along rows and columns overrate a smooth outline by 4 / π on the
    average over all directions (Crofton).
    """
    flat, columns = mask.ravel(), mask.shape[1]
    if mask is zone.objects:
        at, label = zone.edge, zone.edge_label
    else:
        at = edge_of(mask, columns)
        label = zone.ground.ravel().take(at) - 1
    sides = np.zeros(len(at))
    for step in (1, -1, columns, -columns):
        sides += ~flat.take(at + step, mode="clip")
    return np.bincount(label, sides, minlength=zone.count) * np.pi / 4


def _mean(n: int, label: NDArray[np.int32], value: NDArray[np.floating]) -> FloatArray:
    counts = np.bincount(label, minlength=n)
    with np.errstate(invalid="ignore"):
        return np.bincount(label, value, minlength=n) / np.where(counts, counts, np.nan)
