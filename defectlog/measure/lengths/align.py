"""Lay an earlier photo of a surface over a later one.

Places that look alike on both photos are found (SIFT: Lowe, "Distinctive image features from
scale-invariant keypoints", IJCV 60, 2004; compared by the Hellinger distance of Arandjelović and
Zisserman, CVPR 2012), and the one placement that most of them agree on is taken by random
sampling (Fischler and Bolles, "Random sample consensus", CACM 24, 1981). Where both photos have a
scale the part can only have been shifted and turned in its plane, which leaves far less to guess
than a free change of view; without scales a homography is sought.

The scale cards are left out, for they are moved between photos. What lies behind the part cannot
be left out: a person has to see whether the two pictures fit.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.lengths.scale import Matrix3, Point, Scale

LONG_SIDE_PX = 1600  # features are looked for on pictures of this size at most
MOST_FEATURES = 5000
# Placements of photos that show different places had up to 7 places in agreement by chance.
LEAST_AGREEING = 12
LEAST_AGREEING_FREE = 16
TOLERANCE_MM = 1.5
TOLERANCE_PX = 4.0
_SAMPLES = 8000
_SEED = 20260302  # the same photos are always placed the same way


@dataclass(frozen=True, slots=True)
class View:
    """One photo to be aligned.

    Attributes
    ----------
    grey : uint8, rows by columns; a smaller copy of the photo will do.
    shrink : pixels of the copy for a pixel of the photo.
    scale : the scale of the photo, in pixels of the photo.
    """

    grey: NDArray[np.uint8]
    shrink: float
    scale: Scale


@dataclass(frozen=True, slots=True)
class Alignment:
    """How an earlier photo lies over a later one.

    Attributes
    ----------
    matrix : 3 x 3, takes (x, y, 1) in pixels of the earlier photo to pixels of the later one.
    agreeing : how many places look alike and agree on this placement.
    rms_px : how far these miss each other, root mean square, in pixels of the later photo.
    """

    matrix: Matrix3
    agreeing: int
    rms_px: float

    def carry(self, points: list[Point]) -> list[Point]:
        """Points (x, y) of the earlier photo, in pixels of the later one."""
        places = np.asarray(points, dtype=np.float64).reshape(1, -1, 2)
        carried = cv2.perspectiveTransform(places, np.array(self.matrix))[0]
        return [(float(x), float(y)) for x, y in carried]


def align(before: View, after: View) -> Alignment | None:
    """Find how the surface of an earlier photo lies on a later one.

    Returns
    -------
    Alignment or None
        None where too few places agree, or only on a placement no camera could see.
    """
    shrink = _working_shrinks(before, after)
    here, there = _alike(_features(before, shrink[0]), _features(after, shrink[1]))
    if len(here) < LEAST_AGREEING:
        return None
    found = None
    if before.scale.is_known and after.scale.is_known:
        found = _turned_and_shifted(before.scale.to_mm(here), after.scale.to_mm(there))
    if found is None:
        found = _seen_anew(here, there, TOLERANCE_PX / shrink[1])
    if found is None:
        return None
    return _refined(here[found], there[found], after)


def _working_shrinks(before: View, after: View) -> tuple[float, float]:
    """Working pixels for a pixel of each photo: alike in mm if both have a scale."""
    most = [
        min(view.shrink, view.shrink * LONG_SIDE_PX / max(view.grey.shape))
        for view in (before, after)
    ]
    here, there = before.scale.px_per_mm, after.scale.px_per_mm
    if here is None or there is None:
        return most[0], most[1]
    fineness = min(max(here * most[0], there * most[1]), here * before.shrink, there * after.shrink)
    return fineness / here, fineness / there


def _features(view: View, shrink: float) -> tuple[NDArray[np.float64], NDArray[np.float32]]:
    """Places that can be told again (n, 2), in pixels of the photo, and what they look like."""
    factor = shrink / view.shrink
    grey = view.grey
    if factor < 1:
        grey = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    inside = np.full(grey.shape, 255, np.uint8)
    for outline in view.scale.card_outlines:
        cv2.fillPoly(inside, [np.round(np.array(outline) * shrink).astype(np.int32)], 0)
    evened = cv2.createCLAHE(3.0, (8, 8)).apply(grey)
    finder = cv2.SIFT_create(MOST_FEATURES, contrastThreshold=0.02)
    keys, looks = finder.detectAndCompute(evened, inside)
    if looks is None:
        return np.empty((0, 2)), np.empty((0, 128), np.float32)
    places = np.array([key.pt for key in keys], dtype=np.float64) / shrink
    looks = np.sqrt(looks / np.maximum(looks.sum(axis=1, keepdims=True), 1e-6))
    return places, looks


def _alike(
    before: tuple[NDArray[np.float64], NDArray[np.float32]],
    after: tuple[NDArray[np.float64], NDArray[np.float32]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pairs of places that look most alike seen from either photo, (n, 2) each."""
    if not len(before[0]) or not len(after[0]):
        return np.empty((0, 2)), np.empty((0, 2))
    likeness = before[1] @ after[1].T
    best_there, best_here = likeness.argmax(axis=1), likeness.argmax(axis=0)
    mutual = np.flatnonzero(best_here[best_there] == np.arange(len(best_there)))
    return before[0][mutual], after[0][best_there[mutual]]


def _turned_and_shifted(
    before_mm: NDArray[np.float64], after_mm: NDArray[np.float64]
) -> NDArray[np.bool_] | None:
    """Which pairs (n,) agree on one turn and shift in the plane of the part."""
    chance = np.random.default_rng(_SEED)
    one, other = chance.integers(0, len(before_mm), (2, _SAMPLES))
    here = before_mm[:, 0] + 1j * before_mm[:, 1]
    there = after_mm[:, 0] + 1j * after_mm[:, 1]
    span, spanned = here[other] - here[one], there[other] - there[one]
    # Two pairs tell a turn well when they lie apart, and only if they lie equally far apart.
    usable = (abs(span) > 15) & (abs(abs(span) - abs(spanned)) < 2 * TOLERANCE_MM)
    one, other, span, spanned = one[usable], other[usable], span[usable], spanned[usable]
    turn = spanned * np.conj(span)
    turn /= abs(turn)
    shift = (there[one] + there[other]) / 2 - turn * (here[one] + here[other]) / 2
    best: NDArray[np.bool_] | None = None
    for first in range(0, len(turn), 256):  # a block of samples at a time, to spare the memory
        block = slice(first, first + 256)
        off = abs(turn[block, None] * here[None] + shift[block, None] - there[None])
        agrees = off < TOLERANCE_MM
        leader = int(agrees.sum(axis=1).argmax())
        if best is None or agrees[leader].sum() > best.sum():
            best = agrees[leader]
    return best if best is not None and best.sum() >= LEAST_AGREEING else None


def _seen_anew(
    before: NDArray[np.float64], after: NDArray[np.float64], tolerance_px: float
) -> NDArray[np.bool_] | None:
    """Which pairs (n,) agree on one change of view, or None if no camera moves like that."""
    cv2.setRNGSeed(_SEED)
    matrix, agrees = cv2.findHomography(
        before, after, cv2.USAC_MAGSAC, tolerance_px, maxIters=20_000, confidence=0.9999
    )
    if matrix is None or agrees.sum() < LEAST_AGREEING_FREE or not _is_a_view(matrix, before):
        return None
    return agrees.ravel().astype(bool)


def _is_a_view(matrix: NDArray[np.float64], places: NDArray[np.float64]) -> bool:
    """Whether a homography keeps a surface facing the camera, and about as large everywhere."""
    places = np.column_stack([places, np.ones(len(places))])
    depth = places @ matrix[2]
    area = np.linalg.det(matrix) / depth**3
    if np.any(depth <= 0) or np.any(area <= 0):
        return False
    return bool(area.max() < 4 * area.min() and 0.05 < math.sqrt(area.mean()) < 20)


def _refined(
    before: NDArray[np.float64], after: NDArray[np.float64], later: View
) -> Alignment | None:
    """The placement that fits the agreeing pairs best, free of what the scales had wrong."""
    matrix, _ = cv2.findHomography(before, after, 0)
    if matrix is None or not _is_a_view(matrix, before):
        return None
    carried = cv2.perspectiveTransform(before[None], matrix)[0]
    rms = float(np.sqrt(((carried - after) ** 2).sum(axis=1).mean()))
    rows = tuple(tuple(float(value) for value in row) for row in matrix / matrix[2, 2])
    return Alignment(rows, len(before), rms)  # type: ignore[arg-type]
