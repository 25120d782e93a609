"""Each void's own outline: halfway in light between the void and the surface around it."""

from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import by_pieces, in_two
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import (
    FloatArray,
    IndexArray,
    Listed,
    add_up,
    pixels_of_each,
    rows_and_columns,
)
from defectlog.measure.outlines.zone import Part, Zone

LEVELS = (0.35, 0.5, 0.65)  # of the rise, at which areas are taken
# An outline whose contrast takes longer than this to fall from 65 to 35 % is a shadow or
# the flank of a glint, not the edge of a void.
SOFT_EDGE_PX = 2.5
# Unless it is short against the object itself: a blurred picture of a large void. For a hump
# without any plateau it is 0.44 of the radius, less what lies outside the zone.
SOFT_EDGE_SHARE = 0.2
GLINT_SHARE = 0.4  # of its pore, that all glints in it take up at most


@dataclass(frozen=True, slots=True)
class Rise:
    """How far each pixel of a zone lies from the surface about it (0) to its void (1).

    For each object, ``height`` is the contrast between the two, ``around`` that of the
    surface (see ``Zone``), both 0 where nothing of it stands out of what is about it; ``areas``
    are its pixels beyond 35, 50 and 65 % of the rise, ``zone_px`` all of them.
    """

    share: NDArray[np.float32]
    height: FloatArray
    around: FloatArray
    areas: FloatArray  # (n, 3)
    zone_px: FloatArray

    @property
    def counted(self) -> FloatArray:
        """Pixels of each object beyond half of its rise."""
        return self.areas[:, 1]

    @property
    def spread(self) -> FloatArray:
        """Pixels of each object between 35 and 65 % of its rise."""
        return self.areas[:, 0] - self.areas[:, 2]


def rise_of(zone: Zone) -> Rise:
    """Measure how every object rises from the surface."""
    plateau, around = _plateaus(zone)
    share = np.empty(len(zone.at), np.float32)
    counts = sum(zone.by_parts(partial(_shares, zone, plateau, share=share)))
    zone_px, *areas = counts.astype(np.float64)
    return Rise(
        share=share,
        height=np.nan_to_num(plateau - around),
        around=np.nan_to_num(around),
        areas=np.column_stack(areas),
        zone_px=zone_px,
    )


def heights_of(zone: Zone) -> tuple[FloatArray, FloatArray]:
    """The ``height`` of objects and what is ``around`` them, as ``rise_of`` measures these."""
    plateau, around = _plateaus(zone)
    return np.nan_to_num(plateau - around), np.nan_to_num(around)


def _plateaus(zone: Zone) -> tuple[NDArray[np.float32], FloatArray]:
    """The contrast of what is fully void, and that of the surface about it; NaN of none.

    It is the mean of the object's upper part, in two rounds: what lies beyond half of the way to
    its strongest pixel, then beyond 70 % of the way to that mean.
    """

    peak = np.maximum.reduceat(zone.contrast[: zone.own], zone.begin[:-1])
    (plateau,) = _upper_means(zone, peak, 0.5, zone.contrast)
    plateau, around = _upper_means(zone, plateau, 0.7, zone.contrast, zone.around)
    return plateau.astype(np.float32), around


def _upper_means(
    zone: Zone, plateau: FloatArray, share: float, *lights: NDArray[np.float32]
) -> list[FloatArray]:
    """Means of lights over the pixels of each object beyond a share of the way to a plateau."""
    way = plateau.astype(np.float32) * np.float32(share)

    def sums(parts: list[Part]) -> FloatArray:
        counted = np.zeros((1 + len(lights), zone.count))
        for part in parts:
            limit = np.float32(1 - share) * zone.around[part.at]
            limit += part.of_each(way)
            upper = zone.contrast[part.at] >= limit
            part.add_some(counted[0], upper)
            for total, light in zip(counted[1:], lights, strict=True):
                part.add_some(total, upper, light[part.at])
        return counted

    often, *totals = sum(zone.by_parts(sums))
    often = np.where(often, often, np.nan)
    return [total / often for total in totals]


def _shares(
    zone: Zone, plateau: NDArray[np.float32], parts: list[Part], *, share: NDArray[np.float32]
) -> IndexArray:
    """Write down some pixels' share of the rise; count those of each object, and beyond levels."""
    counts = np.zeros((1 + len(LEVELS), zone.count), np.int64)
    for part in parts:
        around = zone.around[part.at]
        span = part.of_each(plateau)
        span -= around
        np.maximum(span, np.float32(1e-3), out=span)
        over = np.subtract(zone.contrast[part.at], around, out=share[part.at])
        over /= span
        part.count(counts[0])
        for count, limit in zip(counts[1:], LEVELS, strict=True):
            part.add_some(count, over > np.float32(limit))
    return counts


def missing_light(zone: Zone) -> FloatArray:
    """What the pixels of each object lack against the surface, in pixels of full light."""

    def sums(parts: list[Part]) -> FloatArray:
        missing = np.zeros(zone.count)
        for part in parts:
            part.add(missing, zone.contrast[part.at] - zone.around[part.at])
        return missing

    return sum(zone.by_parts(sums))


@dataclass(frozen=True, slots=True)
class Outlined:
    """What lies beyond half of each object's rise: its pixels, the object of each, and all."""

    mask: BoolImage
    at: IndexArray
    label: IndexArray


def outlined(zone: Zone, rise: Rise) -> Outlined:
    """What lies within the outlines of the objects of a zone."""
    mask = np.zeros(zone.shape, dtype=bool)
    flat = mask.ravel()

    def draw(part: slice) -> tuple[IndexArray, IndexArray]:
        within = np.flatnonzero(rise.share[part] > 0.5)
        at = zone.at[part].take(within)
        flat[at] = True
        return at, zone.label[part].take(within)

    # Of what lies beyond the objects themselves hardly any is.
    middle = zone.own // 2
    at, label = zip(*in_two(draw, slice(0, middle), slice(middle, len(zone.at))), strict=True)
    return Outlined(mask, np.concatenate(at), np.concatenate(label))


def fill_glints(mask: BoolImage, known: Listed) -> IndexArray:
    """Fill what is wholly inside an object and smaller than the rest of it, in place.

    Parameters
    ----------
    mask : (M, N) bool, filled in place
    known : its objects

    Returns
    -------
    Where that was, as indices of the flattened mask: a glint in a pore is part of the pore.
    """
    filled = [np.zeros(0, dtype=np.int64)]
    if not known.holes.any():
        return filled[0]
    holed = np.append(False, known.holes > 0)
    at = known.at.take(np.flatnonzero(holed.take(known.label)))
    row, column = rows_and_columns(at, mask.shape[1])
    left, top = int(column.min()), int(row.min())
    holed = np.zeros((int(row.max()) - top + 1, int(column.max()) - left + 1), np.uint8)
    holed[row - top, column - left] = 1
    lines, tree = cv2.findContours(
        holed, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE, offset=(left, top)
    )
    parent = tree[0, :, 3]
    inner = np.flatnonzero(parent >= 0)
    areas = np.array([cv2.contourArea(line) for line in lines])
    # The inner outline runs along the object's own pixels, one outside the hole.
    enclosed = np.bincount(parent[inner], areas[inner], len(lines))
    inner = inner[(enclosed <= GLINT_SHARE * areas)[parent[inner]]]
    # Most close in a single pixel, with one to each side of it.
    single = areas[inner] == 2
    if single.any():
        about = np.concatenate([lines[k] for k in inner[single].tolist()]).reshape(-1, 4, 2)
        column, row = (about.sum(axis=1, dtype=np.int64) // 4).T
        filled.append(row * mask.shape[1] + column)
        mask.ravel()[filled[-1]] = True
    for k in inner[~single].tolist():
        x, y, width, height = cv2.boundingRect(lines[k])
        hole = np.zeros((height, width), np.uint8)
        # OpenCV converts all lines that it is given, each time.
        cv2.drawContours(hole, [lines[k]], 0, 1, -1, offset=(-x, -y))
        window = mask[y : y + height, x : x + width]
        fresh = hole > window
        window |= fresh
        row, column = np.nonzero(fresh)
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


def widest_half(
    at: IndexArray, label: IndexArray, which: BoolImage, shape: tuple[int, int]
) -> FloatArray:
    """Half the width of some objects at their widest place, in pixels.

    Parameters
    ----------
    at : pixels of all objects in the flattened picture
    label : of which object each is
    which : (n,) bool, the objects to look at; of the others 0
    shape : of the picture

    Notes
    -----
    A fringed patch has far more outline than its size asks for: half its width by area and
    outline is that of the fringes.
    """
    widest = np.zeros(len(which))
    for number, own in zip(np.flatnonzero(which), pixels_of_each(label, which), strict=True):
        if len(own):
            row, column = rows_and_columns(at.take(own), shape[1])
            drawn = np.zeros((np.ptp(row) + 3, np.ptp(column) + 3), np.uint8)
            drawn[row - (row.min() - 1), column - (column.min() - 1)] = 1
            widest[number] = cv2.distanceTransform(drawn, cv2.DIST_L2, 3).max()
    return widest


def perimeters(mask: BoolImage, at: IndexArray, label: IndexArray, count: int) -> FloatArray:
    """Length of each object's outline, from the pixel sides it shows, in pixels.

    Parameters
    ----------
    mask : (M, N) bool, the objects
    at : their pixels in the flattened mask
    label : of which object each is, 0 to ``count`` - 1
    """
    flat, columns = mask.ravel(), mask.shape[1]

    def sides(parts: list[slice]) -> FloatArray:
        total = np.zeros(count)
        for part in parts:
            own, shown = at[part], np.full(part.stop - part.start, 4, np.uint8)
            for step in (1, -1, columns, -columns):
                shown -= flat.take(own + step, mode="clip")
            add_up(total, label[part], shown)
        return total

    return length_of(sum(by_pieces(sides, len(at))))


def length_of(sides: NDArray[np.number]) -> FloatArray:
    """Length of outlines, in pixels, from the sides of pixels that objects show.

    Notes
    -----
    Sides counted along rows and columns overrate a smooth outline by 4 / π on the
    average over all directions (Crofton).
    """
    return sides * np.pi / 4
