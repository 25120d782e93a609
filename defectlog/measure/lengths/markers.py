"""The markers of a scale card found on a picture, and the scale they give."""

import math
from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import GreyImage, grey_of, linear_light
from defectlog.measure.arrays.student import student_quantile
from defectlog.measure.lengths.card import CARD_LAYOUTS, DICTIONARY, CardLayout
from defectlog.measure.lengths.plane import (
    Corners,
    Plane,
    fit_plane,
    fit_squares,
    jacobian_at,
    through,
)
from defectlog.measure.lengths.scale import Polygon, Scale

# One size alone is not safe: a sharp marker may be missed at one and found at the next.
LONG_SIDES_PX = (1600, 1200, 2200, None)
SMALL_MARKER_PX = 60
TILT_WARNING_DEG = 20
# Corners so far off a flat card are those of a bent one, on a curve perhaps: pixels, and sides of a
# marker. On cylinders of 120 to 1000 mm the scale was off by 1.4 times what the corners are.
BENT_PX, BENT_SIDES, BENT_OFF = 0.6, 0.0035, 2.0
# How true to size a checked print is (paper takes up moisture, printers feed unevenly).
PRINT_PCT = 0.2
# Whatever is known no better than this is no marker: something else looked like one.
NO_MARKER_PCT = 25.0


def find_card(
    image: NDArray[np.uint8], layouts: Mapping[str, CardLayout] = CARD_LAYOUTS
) -> Scale | None:
    """Find our printed scale card and take the scale from it.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue, uint8, upright
    layouts : the cards to look for

    Returns
    -------
    Scale or None
        None if no marker of any of these cards was found. ``px_per_mm`` is that of the middle
        of the picture, ``card_outlines`` the whole card.

    Notes
    -----
    Marker corners are where straight lines fitted to the four sides meet, on linear light:
    on stored values white bleeds over black, and a marker comes out about 0.4 % too small.
    The uncertainty joins the misfit of the corners, carried to the middle of the picture,
    and a checked print's trueness to size. Lens distortion is not in it, nor a stiff card that
    lies above the surface or aslant of it: no picture of it tells that.
    """
    grey = grey_of(image)
    ids = {marker.id: layout for layout in layouts.values() for marker in layout.markers}
    found: dict[int, Corners] = {}
    layout = None
    for long_side in LONG_SIDES_PX:
        for marker_id, corners in _detect(grey, long_side):
            if marker_id in ids and marker_id not in found:
                found[marker_id] = corners
        layout = _commonest([ids[marker_id] for marker_id in found])
        if layout and all(marker.id in found for marker in layout.markers):
            break
    if layout is None:
        return None
    markers = [marker for marker in layout.markers if marker.id in found]
    quads = [_refine(grey, found[marker.id]) for marker in markers]
    places = np.array([marker.corners_mm for marker in markers], dtype=np.float64)
    plane = fit_plane(quads, places, _middle(grey))
    outline = through(plane.to_px, np.array(layout.outline_mm))
    missing = len(layout.markers) - len(markers)
    warnings = [f"{missing} of the card's 4 markers were not found."] if missing else []
    return _scale(grey, quads, plane, [outline], warnings)


def find_markers(image: NDArray[np.uint8], side_mm: float) -> Scale | None:
    """Find one to four bare DICT_4X4_50 markers of one size and take the scale from them.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue, uint8, upright
    side_mm : length of a marker's black square

    Returns
    -------
    Scale or None
        None if no marker was found, or none that a scale could be taken from.
        ``card_outlines`` are the markers with a white margin of a quarter side; markers
        standing close together count as one card.

    Notes
    -----
    Where the markers stand to each other is not known, only that they are equal squares in
    one plane: the plane and their places are fitted together. If they prove to stand on
    a common grid (margins of a quarter side) that knowledge is used.
    """
    grey = grey_of(image)
    found: list[Corners] = []
    for long_side in LONG_SIDES_PX:
        if long_side is None and found:
            break
        for _, corners in _detect(grey, long_side, strict=True):
            if not any(_overlap(corners, known) for known in found):
                found.append(corners)
    if not found:
        return None
    found.sort(key=_side_px, reverse=True)
    quads = [_refine(grey, corners) for corners in found[:4]]
    plane = fit_squares(quads, side_mm, _middle(grey))
    outlines = [through(plane.to_px, hull) for hull in _margins(plane.places_mm, side_mm)]
    scale = _scale(grey, quads, plane, outlines, [])
    return scale if scale.uncertainty_pct < NO_MARKER_PCT else None


def _scale(
    grey: GreyImage,
    quads: Sequence[Corners],
    plane: Plane,
    outlines: Sequence[Polygon],
    warnings: list[str],
) -> Scale:
    """Put the fitted plane into words and numbers."""
    middle = _middle(grey)
    to_mm = np.linalg.inv(plane.to_px)
    to_mm /= to_mm[2, 2]
    jacobian = jacobian_at(to_mm, middle)
    px_per_mm = 1 / math.sqrt(abs(np.linalg.det(jacobian)))
    small, large = sorted(np.linalg.svd(jacobian, compute_uv=False))
    # At the middle of the picture the surface is foreshortened by the cosine of its tilt.
    tilt_deg = math.degrees(math.acos(min(1.0, small / large)))
    factor = student_quantile(plane.spare) if plane.spare else 1.96
    side = min(_side_px(corners) for corners in quads)
    is_bent = bool(plane.spare) and plane.rms_px > max(BENT_PX, BENT_SIDES * side)
    off = BENT_OFF * plane.rms_px / side if is_bent else 0.0
    uncertainty_pct = math.hypot(PRINT_PCT, 100 * factor * plane.scale_error, 100 * off)

    if side < SMALL_MARKER_PX:
        warnings.append(
            f"The markers are only {side:.0f} px wide: go closer or use a larger card "
            "for a surer scale."
        )
    if tilt_deg > TILT_WARNING_DEG:
        warnings.append(
            f"The surface is tilted by about {tilt_deg:.0f}°: hold the camera squarely over it."
        )
    if is_bent:
        warnings.append(
            f"The card's corners are off by {plane.rms_px:.1f} px from a flat card: press it flat, "
            "or print it again at 100 %. Where the part itself is curved, sizes are no surer "
            "than the scale says, and less so away from the card."
        )
    if uncertainty_pct > 2:
        warnings.append(f"The scale is only known to ±{uncertainty_pct:.1f} %.")
    return Scale(
        "card",
        px_per_mm=px_per_mm,
        uncertainty_pct=uncertainty_pct,
        tilt_deg=tilt_deg,
        homography=tuple(tuple(float(value) for value in row) for row in to_mm),
        card_outlines=tuple(outlines),
        warnings=tuple(warnings),
    )


def _detect(
    grey: GreyImage, long_side: int | None, *, strict: bool = False
) -> list[tuple[int, Corners]]:
    """Markers of the dictionary seen with the picture shrunk to a long side."""
    factor = 1.0 if long_side is None else max(1.0, max(grey.shape) / long_side)
    if factor > 1:
        size = (max(1, round(grey.shape[1] / factor)), max(1, round(grey.shape[0] / factor)))
        shrunk = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    else:
        shrunk = grey
    settings = cv2.aruco.DetectorParameters()
    if strict:
        settings.errorCorrectionRate = 0.0
    quads, ids, _ = cv2.aruco.ArucoDetector(DICTIONARY, settings).detectMarkers(shrunk)
    if ids is None:
        return []
    stretch = np.array([grey.shape[1] / shrunk.shape[1], grey.shape[0] / shrunk.shape[0]])
    return [
        (int(marker_id), (np.asarray(quad, np.float64).reshape(4, 2) + 0.5) * stretch - 0.5)
        for marker_id, quad in zip(np.ravel(ids), quads, strict=True)
    ]


def _refine(grey: GreyImage, corners: Corners) -> Corners:
    """Move the corners of a marker to where lines fitted to its sides cross."""
    side = _side_px(corners)
    margin = int(0.3 * side) + 6
    x0, y0 = np.maximum(np.floor(corners.min(axis=0)).astype(int) - margin, 0)
    x1, y1 = np.ceil(corners.max(axis=0)).astype(int) + margin
    light = linear_light(np.ascontiguousarray(grey[y0:y1, x0:x1]))
    local = corners - (x0, y0)
    reach = float(np.clip(0.13 * side, 2.5, 14.0))
    for _ in range(3):
        lines = [_side_line(light, local[k], local[(k + 1) % 4], reach) for k in range(4)]
        if any(line is None for line in lines):
            break
        moved = np.array([_crossing(lines[k - 1], lines[k]) for k in range(4)])
        if np.abs(moved - local).max() > 0.15 * side:
            break
        local = moved
    return local + (x0, y0)


def _side_line(
    light: NDArray[np.float32], a: NDArray[np.float64], b: NDArray[np.float64], reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Two points on the line along which light passes halfway from black to white."""
    length = float(np.hypot(*(b - a)))
    along = np.linspace(0.1, 0.9, int(np.clip(length, 12, 80)))
    across = np.arange(-reach, reach + 0.01, 0.25)
    outward = np.array([b[1] - a[1], a[0] - b[0]]) / length
    places = a + (b - a) * along[:, None]
    x = (places[:, :1] + outward[0] * across).astype(np.float32)
    y = (places[:, 1:] + outward[1] * across).astype(np.float32)
    profiles = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    end = max(2, len(across) // 5)
    black = np.median(profiles[:, :end], axis=1)
    white = np.median(profiles[:, -end:], axis=1)
    half = (black + white)[:, None] / 2
    rising = (profiles[:, :-1] < half) & (profiles[:, 1:] >= half)
    # Of several crossings the one nearest the side as known so far.
    far = np.where(rising, np.abs(across[:-1]), np.inf)
    at = far.argmin(axis=1)
    rows = np.flatnonzero(np.isfinite(far.min(axis=1)) & (white > black))
    if len(rows) < 6:
        return None
    at = at[rows]
    before, after = profiles[rows, at], profiles[rows, at + 1]
    offset = across[at] + 0.25 * (half[rows, 0] - before) / (after - before)
    where = along[rows]
    kept = np.ones(len(rows), dtype=bool)
    for _ in range(3):
        slope, start = np.polyfit(where[kept], offset[kept], 1)
        misfit = np.abs(offset - (start + slope * where))
        kept = misfit <= max(3 * 1.4826 * float(np.median(misfit)), 0.05)
    return a + outward * start, b + outward * (start + slope)


def _crossing(
    first: tuple[NDArray[np.float64], NDArray[np.float64]],
    second: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    (p, q), (r, s) = first, second
    d, e = q - p, s - r
    share = ((r - p)[0] * e[1] - (r - p)[1] * e[0]) / (d[0] * e[1] - d[1] * e[0])
    return p + share * d


def _middle(grey: GreyImage) -> tuple[float, float]:
    return (grey.shape[1] - 1) / 2, (grey.shape[0] - 1) / 2


def _side_px(corners: Corners) -> float:
    return float(np.mean(np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)))


def _overlap(first: Corners, second: Corners) -> bool:
    gap = np.hypot(*(first.mean(axis=0) - second.mean(axis=0)))
    return bool(gap < 0.7 * max(_side_px(first), _side_px(second)))


def _commonest(layouts: Sequence[CardLayout]) -> CardLayout | None:
    """The card most of the markers belong to; the first of equals."""
    names = [layout.name for layout in layouts]
    return max(layouts, key=lambda layout: names.count(layout.name), default=None)


def _margins(places_mm: NDArray[np.float64], side_mm: float) -> list[NDArray[np.float64]]:
    """Outlines of the white paper round the markers, in mm; near neighbours share one."""
    grown = [
        middle + (place - middle) * 1.5
        for place, middle in zip(places_mm, places_mm.mean(axis=1), strict=True)
    ]
    groups: list[list[NDArray[np.float64]]] = []
    for place in grown:
        near = [
            group
            for group in groups
            if any(
                np.hypot(*(place.mean(axis=0) - other.mean(axis=0))) < 2.6 * side_mm
                for other in group
            )
        ]
        groups = [group for group in groups if not any(group is one for one in near)]
        groups.append([place, *(other for group in near for other in group)])
    # Paper is cut square: the smallest rectangle round the markers, not only their hull.
    rectangles = [cv2.minAreaRect(np.concatenate(group).astype(np.float32)) for group in groups]
    return [cv2.boxPoints(rectangle).astype(np.float64) for rectangle in rectangles]
