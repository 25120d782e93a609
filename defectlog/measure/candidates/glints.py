"""Glints at the rim of dark voids: light mirrored by the wall of a pore is a part of the pore."""

import math
from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import by_pieces
from defectlog.measure.arrays.light import ONE, BoolImage
from defectlog.measure.arrays.masks import rows_of_grown
from defectlog.measure.arrays.pixels import (
    IndexArray,
    Listed,
    listed,
    pixels_of_each,
    rows_and_columns,
)
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.outline import GLINT_SHARE

# A glint is brighter than the surface goes by itself, so many times, and than so much, in log
# units of light; it is no speck.
TIMES, LEAST, LEAST_PX = 2.0, 0.2, 6
# It begins no further from the dark of its void than that, and the void fills so much more of its
# convex hull with it: the bright seam that sharpening draws about a void lies beside or around it.
NEAR_PX, ROUNDER = 3, 0.01
ROWS = 128  # that are looked at at a time

Box = Sequence[int]  # left, top, width, height


def may_have_rim_glints(mask: BoolImage, surface: Surface, reach: float) -> bool:
    """Whether anything as bright as a glint lies beside dark objects; see ``fill_rim_glints``."""
    # Of nine pixels in a square one is enough to see that.
    every = 3
    some = (slice(None, None, every),) * 2
    shining = surface.smooth[some] > _least_light(reach)
    if not surface.is_whole:
        shining &= surface.inspected[some]
    square = np.ones((2 * math.ceil(NEAR_PX / every) + 1,) * 2, np.uint8)
    near = cv2.dilate(np.ascontiguousarray(mask[some]).view(np.uint8), square)
    return bool((shining & near.view(np.bool_)).any())


def fill_rim_glints(mask: BoolImage, known: Listed, surface: Surface, reach: float) -> IndexArray:
    """Fill the glints that bite into objects from their rims, in place.

    Parameters
    ----------
    mask : (M, N) bool, dark objects, filled in place
    known : these objects
    surface : they lie on
    reach : how far the surface goes to the bright side by itself, in log units of light

    Returns
    -------
    Where that was, as indices of the flattened mask.
    """
    square = np.ones((2 * NEAR_PX + 1,) * 2, np.uint8)
    shining, beside = _shining(mask, surface, reach)
    objects = np.zeros(mask.shape, np.int32)
    objects.ravel()[known.at] = known.label
    boxes = _boxes(known, mask.shape[1])
    filled = [np.zeros(0, dtype=np.int64)]
    for row, column, box in _each_glint(shining, beside):
        if len(row) < LEAST_PX:
            continue
        about = objects[_window(box, NEAR_PX)]
        own = int(np.bincount(about[about > 0]).argmax())
        if len(row) > GLINT_SHARE * known.area[own - 1]:
            continue
        window = _window(_both(box, boxes[own]), 2 * NEAR_PX)
        whole = objects[window] == own
        glint = np.zeros_like(whole)
        glint[row - window[0].start, column - window[1].start] = True
        row, column = _bitten(whole, glint, square)
        fresh = ~mask[window][row, column] & surface.inspected[window][row, column]
        at = (row[fresh] + window[0].start) * mask.shape[1] + column[fresh] + window[1].start
        mask.ravel()[at] = True
        filled.append(at)
    return np.concatenate(filled)


def _least_light(reach: float) -> np.uint16:
    """What a glint is brighter than, in steps of light."""
    return np.uint16(min(ONE * math.exp(max(TIMES * reach, LEAST)), 65_535))


def _shining(mask: BoolImage, surface: Surface, reach: float) -> tuple[BoolImage, IndexArray]:
    """Where it shines beside all objects, and which pixels of that are near to one."""
    level, shining = _least_light(reach), np.empty_like(mask)

    def look(parts: list[slice]) -> list[IndexArray]:
        found = []
        for part in parts:
            own = shining[part]
            np.greater(surface.smooth[part], level, out=own)
            if not surface.is_whole:
                own &= surface.inspected[part]
            own &= ~mask[part]
            near = rows_of_grown(mask, part, NEAR_PX)
            found.append(np.flatnonzero(own & near) + part.start * mask.shape[1])
        return found

    beside = sum(by_pieces(look, len(mask), piece=ROWS), [])
    return shining, np.concatenate(beside)


def _each_glint(
    shining: BoolImage, beside: IndexArray
) -> Iterator[tuple[IndexArray, IndexArray, Box]]:
    """The rows and columns of each glint that has some of these pixels, and the box about it."""
    known = listed(shining)
    number, first = np.unique(known.runs.of(beside), return_index=True)
    which = np.zeros(known.count + 1, dtype=bool)
    which[number] = True
    each, boxes = pixels_of_each(known.label, which), _boxes(known, shining.shape[1])
    for k in np.argsort(first).tolist():
        yield *rows_and_columns(known.at.take(each[k]), shining.shape[1]), boxes[number[k]]


def _boxes(known: Listed, columns: int) -> IndexArray:
    """The boxes about objects, from 1: left, top, width and height of each."""
    # ``at`` is quick only where types are alike.
    label = known.runs.own.astype(np.int64)
    row, first = np.divmod(known.runs.first, columns)

    def least(values: IndexArray) -> IndexArray:
        of_each = np.full(known.count + 1, np.iinfo(np.int32).max, np.int64)
        np.minimum.at(of_each, label, values)
        return of_each

    left, top = least(first), least(row)
    right, below = -least(-first - known.runs.length), -least(-row - 1)
    return np.column_stack([left, top, right - left, below - top])


def _bitten(
    own: BoolImage, glint: BoolImage, brush: NDArray[np.uint8]
) -> tuple[IndexArray, IndexArray]:
    """The rows and columns of an object with a glint in it; of none if it lies beside."""
    whole = cv2.morphologyEx((own | glint).view(np.uint8), cv2.MORPH_CLOSE, brush) > 0
    row, column = np.nonzero(own)
    middle = int(row.mean()), int(column.mean())
    if _hull(glint)[middle] or _filled(whole) < _filled(own) + ROUNDER:
        return (np.zeros(0, dtype=np.int64),) * 2
    row, column = np.nonzero(whole)
    return row, column


def _filled(one: BoolImage) -> float:
    """The share of its convex hull that an object fills."""
    return np.count_nonzero(one) / np.count_nonzero(_hull(one))


def _hull(one: BoolImage) -> NDArray[np.uint8]:
    lines, _ = cv2.findContours(one.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = np.zeros(one.shape, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(np.concatenate(lines)), 1)
    return hull


def _both(one: Box, other: Box) -> Box:
    """The box about two, each of left, top, width and height."""
    left, top = min(one[0], other[0]), min(one[1], other[1])
    right, below = (max(one[k] + one[k + 2], other[k] + other[k + 2]) for k in (0, 1))
    return left, top, right - left, below - top


def _window(box: Box, margin: int) -> tuple[slice, slice]:
    left, top, width, height = (int(side) for side in box[:4])
    return (
        slice(max(0, top - margin), top + height + margin),
        slice(max(0, left - margin), left + width + margin),
    )
