"""Where the resin is wrong or the bag has left its mark: smears, lean patches, creases, bridges."""

from math import cos, hypot, pi, sin

import cv2
import numpy as np

from defectlog.demo.sheet import (
    Sheet,
    blend,
    ellipse,
    largest_outline,
    rough_island,
    shade,
    sixteenths,
    window_around,
)
from defectlog.demo.spec import Bridge, Crease, Lean, Outline, SandedPatch, Smears, SoftPatch
from defectlog.demo.weave import smooth_noise


def smears(sheet: Sheet, residue: Smears, rng: np.random.Generator) -> Outline:
    around = sheet.view.points_px(ellipse(residue.centre_mm, residue.size_mm))
    window = window_around(sheet, around, 0.4 * hypot(*np.ptp(np.asarray(around), 0)))
    if window is None:
        return ()
    rows, columns = sheet.weave[window].shape
    scale = sheet.view.scale_at(residue.centre_mm)
    size = np.asarray(residue.size_mm) * scale
    middle = np.asarray(around).mean(0) - [window[1].start, window[0].start]
    drops = np.zeros((rows, columns), np.uint8)
    for _ in range(int(2600 * residue.amount)):
        at = middle + rng.normal(0, 0.27, 2) * size
        radius = scale * 0.10 * np.exp(rng.normal(0, 0.75))
        cv2.circle(drops, sixteenths(at), int(radius * 16), int(rng.integers(110, 255)), -1,
                   cv2.LINE_AA, 4)  # fmt: skip
    drag = float(rng.uniform(0, pi))
    for _ in range(int(26 * residue.amount)):
        at = middle + rng.normal(0, 0.22, 2) * size
        turn = drag + rng.normal(0, 0.25)
        reach = scale * rng.uniform(4, 14)
        for _ in range(12):
            side = rng.normal(0, 1.3, 2) * scale
            far = at + side + np.array([cos(turn), sin(turn)]) * reach * rng.uniform(0.4, 1)
            cv2.line(drops, sixteenths(at + side), sixteenths(far), int(rng.integers(60, 200)),
                     max(1, int(scale * rng.uniform(0.1, 0.5))), cv2.LINE_AA, 4)  # fmt: skip
    film = cv2.GaussianBlur(drops, (0, 0), 0.18 * scale).astype(np.float32) / 255
    mist = cv2.GaussianBlur(drops, (0, 0), 1.6 * scale).astype(np.float32) / 255
    free = sheet.free[window] == 255
    amount = np.clip(1.3 * film + 1.1 * mist, 0, 1) * free
    # Amber film takes out the blue; over carbon it shows because it scatters a little.
    for plane, kept in zip(sheet.planes, (0.35, 0.66, 0.93), strict=True):
        plane[window] *= 1 - amount * (1 - kept)
    glow = (0.012, 0.045, 0.085) if sheet.carbon else (0.02, 0.09, 0.16)
    relief = cv2.Sobel(film, cv2.CV_32F, 1, 1, ksize=3)
    for plane, value in zip(sheet.planes, glow, strict=True):
        plane[window] += amount * value
        plane[window] += np.clip(relief * 0.8, 0, 0.3) * free
    return around


def bridge(sheet: Sheet, gap: Bridge, rng: np.random.Generator) -> Outline:
    start, end = (np.asarray(p) for p in sheet.view.points_px((gap.start_mm, gap.end_mm)))
    scale = sheet.view.scale_at(gap.start_mm)
    half = gap.width_mm / 2 * scale
    window = window_around(sheet, (tuple(start), tuple(end)), 4 * half)
    if window is None:
        return ()
    rows, columns = sheet.weave[window].shape
    shift = np.array([window[1].start, window[0].start])
    unit = (end - start) / np.hypot(*(end - start))
    y, x = np.ogrid[:rows, :columns]
    dx, dy = x + shift[0] - start[0], y + shift[1] - start[1]
    along = (dx * unit[0] + dy * unit[1]) / np.hypot(*(end - start))
    aside = (-dx * unit[1] + dy * unit[0]).astype(np.float32)
    aside = aside + 0.35 * half * smooth_noise(rng, (rows, columns), 14)
    ends = np.clip(np.minimum(along, 1 - along) * 9, 0, 1) ** 0.6
    width = half * ends * (1 + 0.25 * smooth_noise(rng, (rows, columns), 10)) + 1e-3
    hollow = (np.clip(1.5 - np.abs(aside) / width, 0, 1) * (ends > 0)).astype(np.float32)
    hollow = cv2.GaussianBlur(hollow, (0, 0), 1.0) * (sheet.free[window] == 255)
    lip = np.exp(-(((aside - 1.9 * width) / (0.5 * width)) ** 2)) * (ends > 0.2)
    bubbles = np.clip(smooth_noise(rng, (rows, columns), max(rows, columns) // 9) - 1.1, 0, 1)
    pale = (0.16, 0.165, 0.17) if sheet.carbon else (0.60, 0.68, 0.70)
    shade(sheet, window, (1 + 0.35 * lip).astype(np.float32))
    blend(sheet, window, hollow * (0.78 - 0.3 * bubbles).astype(np.float32), pale)
    normal = np.array([-unit[1], unit[0]]) * half * 1.4
    return tuple(map(tuple, (start + normal, end + normal, end - normal, start - normal)))


def lean(sheet: Sheet, patch: Lean, rng: np.random.Generator) -> Outline:
    around = sheet.view.points_px(ellipse(patch.centre_mm, patch.size_mm))
    window = window_around(sheet, around, 0.5 * hypot(*np.ptp(np.asarray(around), 0)))
    if window is None:
        return ()
    island = rough_island(sheet, window, around, rng, rag=0.35)
    share = np.clip((island - 0.35) / 0.3, 0, 1) * (sheet.free[window] == 255)
    share = cv2.GaussianBlur(share.astype(np.float32), (0, 0), 5)
    proud = 1 + share * (2.6 * sheet.weave[window] + 0.06)
    shade(sheet, window, np.clip(proud, 0.3, 2).astype(np.float32))
    return largest_outline(share > 0.5, window) or around


def crease(sheet: Sheet, ridge_line: Crease, rng: np.random.Generator) -> Outline:
    path = sheet.view.points_px(ridge_line.path_mm)
    scale = sheet.view.scale_at(ridge_line.path_mm[0])
    window = window_around(sheet, path, 5 * ridge_line.width_mm * scale)
    if window is None:
        return ()
    ridge = np.zeros(sheet.weave[window].shape, np.uint8)
    points = np.asarray(path) - [window[1].start, window[0].start]
    cv2.polylines(ridge, [np.round(points * 16).astype(np.int32)], False, 255,
                  max(1, int(0.5 * ridge_line.width_mm * scale)), cv2.LINE_AA, 4)  # fmt: skip
    wide = ridge_line.width_mm * scale
    height = cv2.GaussianBlur(ridge.astype(np.float32) / 255, (0, 0), 0.4 * wide)
    turn = np.deg2rad(sheet.spec.lamp.from_deg)
    slope = cv2.Sobel(height, -1, 1, 0, ksize=3) * cos(turn)
    slope += cv2.Sobel(height, -1, 0, 1, ksize=3) * sin(turn)
    worn = 1 + 0.3 * smooth_noise(rng, height.shape, 12)
    factor = 1 - ridge_line.height * worn * (0.9 * slope * wide / 4) - 0.10 * height
    shade(sheet, window, np.clip(factor, 0.35, 1.9).astype(np.float32))
    inside = (height > 0.25) & (sheet.free[window] == 255)
    return largest_outline(inside, window)


def soft(sheet: Sheet, patch: SoftPatch, rng: np.random.Generator) -> Outline:
    around = sheet.view.points_px(ellipse(patch.centre_mm, patch.size_mm))
    window = window_around(sheet, around, 0.4 * hypot(*np.ptp(np.asarray(around), 0)))
    if window is None:
        return ()
    scale = sheet.view.scale_at(patch.centre_mm)
    island = rough_island(sheet, window, around, rng, rag=0.25)
    rows, columns = island.shape
    sweat = np.clip((island - 0.35) / 0.3, 0, 1) * (sheet.free[window] == 255)
    sweat = cv2.GaussianBlur(sweat.astype(np.float32), (0, 0), 4)
    beads = np.clip(smooth_noise(rng, island.shape, max(rows, columns) // 7) - 0.9, 0, 1)
    dents = np.zeros(island.shape, np.uint8)
    points = np.asarray(around) - [window[1].start, window[0].start]
    middle, half = points.mean(0), np.ptp(points, 0) / 2
    for _ in range(patch.dents):
        at = middle + rng.uniform(-0.5, 0.5, 2) * half
        turn = float(rng.normal(25, 14))
        axes = (int(5.2 * scale * 16), int(2.6 * scale * 16))
        cv2.ellipse(dents, sixteenths(at), axes, turn, 200, 340, 255,
                    max(2, int(0.5 * scale)), cv2.LINE_AA, 4)  # fmt: skip
    depth = cv2.GaussianBlur(dents, (0, 0), 0.22 * scale).astype(np.float32) / 255
    lamp = np.deg2rad(sheet.spec.lamp.from_deg)
    slope = cv2.Sobel(depth, -1, 1, 0, ksize=3) * cos(lamp)
    slope += cv2.Sobel(depth, -1, 0, 1, ksize=3) * sin(lamp)
    factor = (1 + 1.1 * slope * 0.3 * scale - 0.2 * depth) * (1 - 0.12 * sweat)
    shade(sheet, window, np.clip(factor, 0.3, 2.2).astype(np.float32))
    gloss = 0.05 if sheet.carbon else 0.09
    for plane in sheet.planes:
        plane[window] += sweat * (0.35 + beads) * gloss
    return around


def sanded(sheet: Sheet, patch: SandedPatch, rng: np.random.Generator) -> Outline:
    around = sheet.view.points_px(ellipse(patch.centre_mm, patch.size_mm))
    window = window_around(sheet, around, 0.4 * hypot(*np.ptp(np.asarray(around), 0)))
    if window is None:
        return ()
    island = rough_island(sheet, window, around, rng, rag=0.14)
    share = np.clip((island - 0.42) / 0.16, 0, 1) * (sheet.free[window] == 255)
    share = cv2.GaussianBlur(share.astype(np.float32), (0, 0), 3)
    rows, columns = island.shape
    rubbed = cv2.GaussianBlur(
        rng.standard_normal((rows, columns)).astype(np.float32), (0, 0), 9, sigmaY=0.7
    )
    even = [float(plane[window].mean()) for plane in sheet.planes]
    lift = 1.25 if not sheet.carbon else 1.6
    for plane, mean in zip(sheet.planes, even, strict=True):
        part = plane[window]
        flat = (0.45 * part + 0.55 * mean) * lift * (1 + 0.16 * rubbed)
        part += share * 0.8 * (flat - part)
    return around
