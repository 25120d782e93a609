"""What could be marked of what a measurement counted: pinholes gathered, dry patches, lines.

Shapes propose, a person decides. Pinholes are never marked one by one: those that lie near each
other become one outline, as a maker would draw it.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.figures.arrangement import kinds_of
from defectlog.measure.figures.spacing import nearest_distances
from defectlog.measure.outlines.shapes import Shapes, shapes_of

Point = tuple[float, float]
What = Literal["pinholes", "dry patch", "line"]

FEWEST_PINHOLES = 3  # fewer lie on any good surface, and are told by the count
LEAST_SHARE = 0.05  # of all pinholes; a group of fewer is told by the count, too
MOST_GROUPS, MOST_PATCHES, MOST_LINES = 4, 6, 4
MOST_CORNERS = 24
# Pinholes belong together as far apart as this many times the usual gap to the nearest one.
GATHERED = 3.0
# Without a scale a patch is told from a pinhole by the picture: of 250 mm, 3 mm are an 80th.
SIDES_OF_PICTURE = 250.0


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing that could be marked.

    ``shape`` is how it would be drawn, ``points`` (x, y) in pixels, ``centres`` where the voids in
    it lie.
    """

    what: What
    shape: Literal["outline", "line"]
    points: tuple[Point, ...]
    centres: tuple[Point, ...]

    @property
    def count(self) -> int:
        """How many voids lie in it."""
        return len(self.centres)


def propose(
    mask: BoolImage, *, px_per_mm: float | None, within: BoolImage | None = None
) -> tuple[Proposal, ...]:
    """Gather the voids of a measurement into what could be marked, the largest first of each sort.

    Parameters
    ----------
    mask : (M, N) bool, what was counted
    px_per_mm : pixels of the mask a millimetre takes; None without a scale
    within : (M, N) bool, the surface that was inspected, which no mark reaches beyond; None for
        all of it

    Returns
    -------
    tuple of Proposal
        Dry patches, then groups of pinholes, then lines; at most 14. A pixel whose place is
        (x, y) covers that unit square, so points lie on its sides.
    """
    shapes = shapes_of(mask)
    per_mm = px_per_mm or max(mask.shape) / SIDES_OF_PICTURE
    words = np.array(shapes.words, dtype=object)
    kinds = kinds_of(words, shapes.diameter / per_mm, shapes.longest / per_mm, None)
    largest = np.argsort(-shapes.area, kind="stable")
    patches = [i for i in largest if kinds[i] == "dry patch"][:MOST_PATCHES]
    lines = [i for i in largest if kinds[i] in ("line", "along a tow")]
    lines = [i for i in lines if shapes.longest[i] >= 3 * per_mm][:MOST_LINES]
    holes = np.array([i for i, kind in enumerate(kinds) if kind == "pinhole"], dtype=np.int64)
    found = (
        *(_patch(mask, shapes, i) for i in patches),
        *_groups(shapes, holes, mask.shape),
        *(_line(shapes, i) for i in lines),
    )
    if within is None:
        return found
    return tuple(one for one in (_kept_to(proposal, within) for proposal in found) if one)


def _kept_to(proposal: Proposal, within: BoolImage) -> Proposal | None:
    """What of a proposal lies on a surface, or None if that is not worth marking.

    Where the surface parts it the largest part stays, with the voids in it.
    """
    corners = np.array(proposal.points)
    if proposal.shape == "line":
        ends = _stretch(corners, within)
        return None if ends is None else replace(proposal, points=_points(ends))
    left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 1, 0)
    right, low = np.ceil(corners.max(axis=0)).astype(int) + 1
    surface = within[top:low, left:right]
    own = np.zeros(surface.shape, np.uint8)
    # A pixel's middle is half a pixel into it.
    sixteenths = np.round((corners - (left + 0.5, top + 0.5)) * 16).astype(np.int32)
    cv2.fillPoly(own, [sixteenths], 1, shift=4)
    if surface[own > 0].all():
        return proposal
    own[~surface] = 0
    if not own.any():
        return None
    outline = _outline_of(own, left, top)
    rim = outline.astype(np.float32)
    centres = tuple(
        place for place in proposal.centres if cv2.pointPolygonTest(rim, place, False) >= 0
    )
    if len(centres) < (FEWEST_PINHOLES if proposal.what == "pinholes" else 1):
        return None
    return replace(proposal, points=_points(outline), centres=centres)


def _stretch(ends: NDArray[np.float64], within: BoolImage) -> NDArray[np.float64] | None:
    """The stretch of a line that lies on a surface, round its middle."""
    steps = max(2, 2 * math.ceil(float(np.hypot(*(ends[1] - ends[0])))))
    along = ends[0] + np.linspace(0, 1, steps + 1)[:, None] * (ends[1] - ends[0])
    column, row = np.minimum(along.astype(int), (within.shape[1] - 1, within.shape[0] - 1)).T
    outside = np.flatnonzero(~within[row, column])
    middle = steps // 2
    first = max(outside[outside <= middle], default=-1) + 1
    last = min(outside[outside >= middle], default=steps + 1) - 1
    return along[[first, last]] if last > first else None


def _patch(mask: BoolImage, shapes: Shapes, index: int) -> Proposal:
    rows, columns = np.divmod(shapes.at[shapes.label == index], mask.shape[1])
    top, left = int(rows.min()), int(columns.min())
    own = np.zeros((int(rows.max()) - top + 1, int(columns.max()) - left + 1), np.uint8)
    own[rows - top, columns - left] = 1
    corners = _clipped(_outline_of(own, left, top), mask.shape)
    return Proposal("dry patch", "outline", corners, _centres(shapes, [index]))


def _outline_of(own: NDArray[np.uint8], left: int, top: int) -> NDArray[np.float64]:
    """The outline of the largest part that is set of a piece of a picture, so far in from its edge.

    At least one pixel has to be set.
    """
    # Twice as fine, so that the outline runs along the sides of the pixels and not their middles.
    fine = cv2.resize(np.pad(own, 1), None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    contours, _ = cv2.findContours(fine, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(contours, key=cv2.contourArea).reshape(-1, 2)
    return _few_corners(outline / 2 + (left - 0.75, top - 0.75))


def _line(shapes: Shapes, index: int) -> Proposal:
    """From end to end along the long axis."""
    turn = math.radians(float(shapes.direction_deg[index]))
    half = shapes.longest[index] / 2
    along = np.array([math.cos(turn), -math.sin(turn)]) * half
    middle = np.array([shapes.x[index], shapes.y[index]]) + 0.5
    ends = np.maximum(np.array([middle - along, middle + along]), 0)
    return Proposal("line", "line", _points(ends), _centres(shapes, [index]))


def _groups(shapes: Shapes, holes: NDArray[np.int64], size: tuple[int, int]) -> list[Proposal]:
    if len(holes) < FEWEST_PINHOLES:
        return []
    places = np.column_stack([shapes.x[holes], shapes.y[holes]]) + 0.5
    reach = GATHERED * _usual_gap(places)
    group = _gathered(places, reach, size)
    sizes = np.bincount(group)
    groups = []
    for index in np.argsort(-sizes, kind="stable")[:MOST_GROUPS]:
        if sizes[index] < max(FEWEST_PINHOLES, LEAST_SHARE * len(holes)):
            break
        chosen = group == index
        outline = _around(places[chosen], shapes.diameter[holes[chosen]] / 2 + reach / 6)
        centres = _centres(shapes, holes[chosen])
        groups.append(Proposal("pinholes", "outline", _clipped(outline, size), centres))
    return groups


def _usual_gap(places: NDArray[np.float64]) -> float:
    """The median way to the nearest neighbour."""
    return max(float(np.median(nearest_distances(places))), 4.0)


def _gathered(
    places: NDArray[np.float64], reach: float, size: tuple[int, int]
) -> NDArray[np.int64]:
    """Which group (n,) each place is of: a chain of steps no longer than about ``reach``."""
    cell = max(1.0, reach / 8)
    grid = np.zeros((int(size[0] / cell) + 2, int(size[1] / cell) + 2), np.uint8)
    column, row = (places / cell).astype(np.int64).T
    grid[row, column] = 1
    grown = cv2.dilate(grid, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9)))
    _, labels = cv2.connectedComponents(grown, connectivity=8)
    return labels[row, column].astype(np.int64)


def _around(places: NDArray[np.float64], reach: NDArray[np.float64]) -> NDArray[np.float64]:
    """The convex outline round circles at some places."""
    turns = np.linspace(0, 2 * math.pi, 16, endpoint=False)
    rim = places[:, None] + reach[:, None, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    hull = cv2.convexHull(rim.reshape(-1, 2).astype(np.float32)).reshape(-1, 2)
    return _few_corners(hull.astype(np.float64))


def _few_corners(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    """The outline with so few corners that a finger can move them."""
    points = outline.astype(np.float32).reshape(-1, 1, 2)
    allowed = 0.5
    simple = points
    while len(simple) > MOST_CORNERS:
        simple = cv2.approxPolyDP(points, allowed, True)
        allowed *= 1.3
    return simple.reshape(-1, 2).astype(np.float64)


def _clipped(outline: NDArray[np.float64], size: tuple[int, int]) -> tuple[Point, ...]:
    return _points(np.clip(outline, 0, (size[1], size[0])))


def _centres(shapes: Shapes, chosen: NDArray[np.int64] | list[int]) -> tuple[Point, ...]:
    return _points(np.column_stack([shapes.x[chosen], shapes.y[chosen]]) + 0.5)


def _points(places: NDArray[np.float64]) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in places)
