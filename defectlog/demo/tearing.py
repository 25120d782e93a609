"""Torn ply: fibre bared and lifted where the peel ply was pulled away."""

from math import atan2, cos, sin

import cv2
import numpy as np

from defectlog.demo.sheet import (
    Sheet,
    along_and_aside,
    blend,
    shade,
    window_around,
)
from defectlog.demo.spec import Outline, TornPly
from defectlog.demo.weave import Bytes, Floats


def torn_ply(sheet: Sheet, tear: TornPly, rng: np.random.Generator) -> Outline:
    start, end = (np.asarray(p) for p in sheet.view.points_px((tear.start_mm, tear.end_mm)))
    scale = sheet.view.scale_at(tear.start_mm)
    length = float(np.hypot(*(end - start)))
    unit = (end - start) / length
    normal = np.array([-unit[1], unit[0]])
    half = tear.width_mm / 2 * scale
    band = tuple(
        tuple((start + unit * length * along + normal * half * aside).tolist())
        for along, aside in ((0, -0.5), (0.35, -1), (1, -0.45), (1, 0.45), (0.35, 1), (0, 0.5))
    )
    window = window_around(sheet, band, 4 * scale)
    if window is None:
        return ()
    shift = np.array([window[1].start, window[0].start])
    shape = sheet.weave[window].shape
    along, aside = along_and_aside(shape, start - shift, unit)
    streak = _drawn_along(rng, along, aside, 3.4 * scale, 0.42 * scale)
    fine = _drawn_along(rng, along, aside, 2.2 * scale, 0.09 * scale)
    share = along / length
    envelope = np.clip(np.minimum(share * 5 + 0.5, (1 - share) * 2.2), -1, 1)
    spread = half * (0.5 + 0.5 * np.clip(share * 3, 0, 1)) * (1 - 0.45 * np.clip(share, 0, 1))
    inside = 1.05 * envelope - (np.abs(aside) / spread) ** 2 + 0.55 * streak
    bared = np.clip((inside - 0.25) / 0.35, 0, 1).astype(np.float32)
    bared = cv2.GaussianBlur(bared, (0, 0), 0.9) * (sheet.free[window] == 255)

    pale = (0.19, 0.19, 0.195) if sheet.carbon else (0.44, 0.50, 0.51)
    bright = (0.34, 0.34, 0.34) if sheet.carbon else (0.66, 0.71, 0.72)
    texture = np.clip(1 + 0.22 * fine + 2.4 * sheet.weave[window], 0.35, 1.7)
    dull = bared * np.clip(0.62 + 0.25 * streak, 0.15, 0.95)
    for plane, value in zip(sheet.planes, pale, strict=True):
        plane[window] += dull * (value * texture - plane[window])

    fibres, under = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    rows, columns = np.nonzero(bared > 0.5)
    tufts = int(len(rows) / scale**2 / 3.2) + 6
    for pick in rng.integers(0, max(1, len(rows)), tufts if len(rows) else 0):
        _one_lifted(fibres, under, np.array([columns[pick], rows[pick]]), unit, scale, rng)
    free = sheet.free[window] == 255
    shaded = cv2.GaussianBlur(under, (0, 0), 1.8).astype(np.float32) / 255
    fuzz = cv2.GaussianBlur(fibres, (0, 0), 0.6).astype(np.float32) / 255
    shade(sheet, window, 1 - 0.55 * shaded * free)
    blend(sheet, window, np.clip(fuzz, 0, 0.85) * free, bright)
    return band


def _drawn_along(
    rng: np.random.Generator, along: Floats, aside: Floats, long_px: float, thin_px: float
) -> Floats:
    """Noise drawn out along a direction, about unit spread: fibres lying side by side."""
    noise = rng.standard_normal((256, 256)).astype(np.float32)
    return cv2.remap(
        noise, along / long_px + 128, aside / thin_px + 128, cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )  # fmt: skip


def _one_lifted(
    fibres: Bytes,
    under: Bytes,
    root: np.ndarray,
    unit: np.ndarray,
    scale: float,
    rng: np.random.Generator,
) -> None:
    """A tuft of broken filaments leaning along the pull, with its thin shadow."""
    tuft = int(rng.integers(2, 7))
    base = atan2(unit[1], unit[0]) + rng.normal(0, 0.10)
    for _ in range(tuft):
        turn = base + rng.normal(0, 0.16)
        bend = rng.normal(0, 0.35)
        reach = scale * rng.gamma(2.4, 0.8)
        at = root + rng.normal(0, 0.16, 2) * scale
        points = [at]
        for _ in range(4):
            at = at + np.array([cos(turn), sin(turn)]) * reach / 4
            turn += bend / 4
            points.append(at)
        path = np.round(np.asarray(points) * 16).astype(np.int32)
        cv2.polylines(under, [path + int(3 * 16)], False, 160, 1, cv2.LINE_AA, 4)
        cv2.polylines(fibres, [path], False, int(rng.integers(60, 240)), 1, cv2.LINE_AA, 4)
