"""Places that hold air: pinholes and dry spots. What is drawn here is counted as void."""

from math import hypot, pi

import cv2
import numpy as np

from defectlog.demo.sheet import (
    Sheet,
    blend,
    ellipse,
    largest_outline,
    rough_island,
    window_around,
)
from defectlog.demo.spec import DrySpot, Outline, Pinholes, Point
from defectlog.demo.weave import Floats, smooth_noise


def pinholes(sheet: Sheet, holes: Pinholes, rng: np.random.Generator) -> Outline:
    """Pits scattered over the face in mm, then drawn as far as the picture shows them.

    Where they lie does not depend on the camera, so that a close-up shows the same pits.
    """
    pit = (0.010, 0.010, 0.011) if sheet.carbon else (0.50, 0.56, 0.56)
    placed: list[Point] = []
    for at in _scattered(sheet.spec.outline_mm, holes, rng):
        diameter_mm = float(holes.median_mm * np.exp(rng.normal(0, 0.32)))
        wavering = rng.uniform(0, 2 * pi, 2)
        tone = float(rng.normal(1, 0.10))
        x, y = sheet.view.point_px(at)
        radius = diameter_mm / 2 * sheet.view.scale_at(at)
        if _one_pit(sheet, (x, y), radius, wavering, tuple(tone * value for value in pit)):
            placed.append((x, y))
    if not placed:
        return ()
    hull = cv2.convexHull(np.asarray(placed, np.float32))[:, 0]
    return tuple(map(tuple, hull.tolist()))


def _scattered(outline_mm: Outline, holes: Pinholes, rng: np.random.Generator) -> list[Point]:
    """So many places on the part, evenly or around a middle."""
    face = np.asarray(outline_mm, np.float32)
    low, high = face.min(0), face.max(0)
    places: list[Point] = []
    while len(places) < holes.count:
        if holes.size_mm is None:
            x, y = rng.uniform(low, high)
        else:
            x, y = np.asarray(holes.centre_mm) + rng.normal(0, 0.34, 2) * holes.size_mm
        if cv2.pointPolygonTest(face, (float(x), float(y)), False) > 0:
            places.append((float(x), float(y)))
    return places


def _one_pit(
    sheet: Sheet, at: Point, radius: float, wavering: Floats, colour: tuple[float, ...]
) -> bool:
    """One round-ish pit with partial pixels at its rim; False if it would not lie in the clear."""
    x, y = at
    reach = int(radius * 1.5 + 4)
    left, top = int(x) - reach, int(y) - reach
    window = slice(top, top + 2 * reach + 1), slice(left, left + 2 * reach + 1)
    rows, columns = sheet.weave.shape
    if left < 0 or top < 0 or window[0].stop > rows or window[1].stop > columns:
        return False
    if sheet.free[window].min() < 255 or sheet.void_cover[window].any():
        return False
    down, across = np.ogrid[top - y : window[0].stop - y, left - x : window[1].stop - x]
    far = np.sqrt(across**2 + down**2)
    turn = np.arctan2(down, across)
    first, second = wavering
    rim = radius * (1 + 0.10 * np.cos(2 * turn + first) + 0.06 * np.cos(3 * turn + second))
    cover = np.clip(0.5 + rim - far, 0, 1).astype(np.float32)
    sheet.void_cover[window] = np.round(cover * 255).astype(np.uint8)
    blend(sheet, window, cover, colour)
    return True


def dry_spot(sheet: Sheet, spot: DrySpot, rng: np.random.Generator) -> Outline:
    around = sheet.view.points_px(ellipse(spot.centre_mm, spot.size_mm))
    window = window_around(sheet, around, 0.5 * hypot(*np.ptp(np.asarray(around), 0)))
    if window is None:
        return ()
    island = rough_island(sheet, window, around, rng, rag=0.30)
    # The rim follows the weave: resin creeps along the tows.
    island = cv2.GaussianBlur(island + 0.9 * sheet.weave[window], (0, 0), 2.0)
    edge_px = 2.0
    slope = cv2.magnitude(cv2.Sobel(island, -1, 1, 0) / 8, cv2.Sobel(island, -1, 0, 1) / 8)
    steep = cv2.GaussianBlur(slope, (0, 0), 4) + 1e-3
    cover = np.clip((island - 0.5) / (steep * edge_px) * 0.5 + 0.5, 0, 1)
    cover = cv2.GaussianBlur(cover, (0, 0), 0.7) * (sheet.free[window] == 255)
    halo = np.clip(1 - np.abs(island - 0.38) / 0.16, 0, 1) * (cover < 0.5)
    dry = 0.47 + 1.6 * sheet.weave[window] + 0.03 * smooth_noise(rng, island.shape, 40)
    dry = np.clip(dry, 0.3, 0.9) if not sheet.carbon else np.clip(dry * 0.34, 0.1, 0.3)
    for plane, tint in zip(sheet.planes, (0.93, 1.0, 1.0), strict=True):
        plane[window] *= 1 - 0.12 * halo
        part = plane[window]
        part += cover * (np.maximum(dry * tint, part * 1.25) - part)
    void = np.round(cover * 255).astype(np.uint8)
    np.maximum(sheet.void_cover[window], void, out=sheet.void_cover[window])
    return largest_outline(void > 127, window)
