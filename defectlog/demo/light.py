"""Lamp, gloss, shadow: how light falls on the part and on the bench around it."""

from math import cos, radians, sin

import cv2
import numpy as np

from defectlog.demo.camera import STEP_PX, View
from defectlog.demo.spec import Lamp, Outline, Side, Surface, fill
from defectlog.demo.weave import Cloth, Floats, smooth_noise


def lamp_field(lamp: Lamp, view: View, rng: np.random.Generator) -> Floats:
    """How brightly each place is lit, about 1 in the middle, on the coarse grid."""
    across, down = _coarse_places(view)
    toward = across * cos(radians(lamp.from_deg)) + down * sin(radians(lamp.from_deg))
    # A hand lamp close to the surface: light falls off with the square of the distance.
    distance = 2.6 - toward
    near = (2.6 / distance) ** 2
    field = 1 + lamp.falloff * (near - 1)
    vignette = 1 - 0.12 * (across**2 + down**2)
    wander = 1 + 0.04 * smooth_noise(rng, field.shape, 3)
    return np.clip(field * vignette * wander, 0.05, 4).astype(np.float32)


def gloss_field(
    lamp: Lamp, surface: Surface, view: View, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """What the surface mirrors, to be added: a soft window, and the lamp's own hot spot."""
    across, down = _coarse_places(view)
    angle = radians(lamp.from_deg)
    along = across * cos(angle) + down * sin(angle)
    aside = -across * sin(angle) + down * cos(angle)
    gloss = 1.0 if surface.side is Side.TOOL else 0.22
    # The ceiling and a window of two panes, bent by the unevenness of a hand-made surface.
    middle = float(rng.uniform(-0.45, 0.45))
    lean = float(rng.uniform(-0.35, 0.35))
    bent = aside - middle - lean * along + 0.035 * smooth_noise(rng, across.shape, 8)
    reach = along - float(rng.uniform(-0.2, 0.3)) + 0.03 * smooth_noise(rng, across.shape, 8)
    panes = _soft_box(bent, 0.30, 0.05) * _soft_box(reach, 0.62, 0.07)
    panes *= 1 - 0.55 * np.exp(-((bent / 0.045) ** 2))
    room = 0.4 + 0.6 * np.clip(0.5 + 0.5 * along, 0, 1) ** 1.5
    strength = 0.095 if surface.cloth is Cloth.GLASS_PLAIN else 0.045
    window = strength * gloss * (0.6 * room + 0.75 * panes)

    x, y = 2 * lamp.glare_at[0] - 1, (2 * lamp.glare_at[1] - 1) * 0.75
    near = (across - x) * cos(angle) + (down - y) * sin(angle)
    side = -(across - x) * sin(angle) + (down - y) * cos(angle)
    spot = np.exp(-((near / 0.22) ** 2) - (side / 0.11) ** 2)
    hot = lamp.glare * spot * (1 + 0.3 * smooth_noise(rng, across.shape, 20))
    return window.astype(np.float32), np.clip(hot, 0, 3).astype(np.float32)


def _soft_box(place: Floats, half: float, softness: float) -> Floats:
    """1 within ``half`` of zero, falling off over ``softness``."""
    return 0.5 - 0.5 * np.tanh((np.abs(place) - half) / softness)


def shadow_field(part_px: Outline, lamp: Lamp, view: View, height_px: float) -> Floats:
    """Light left on the bench, 0–1: the part's own shadow and the darkness close to its edge.

    On the coarse grid, as it is soft anyway.
    """
    camera = view.camera
    shape = (camera.height_px // STEP_PX + 2, camera.width_px // STEP_PX + 2)
    away = np.array([cos(radians(lamp.from_deg)), sin(radians(lamp.from_deg))]) * -1
    part = (np.asarray(part_px) + 0.5) / STEP_PX + 0.5
    cast, touch = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    reach = height_px / STEP_PX
    for share in (0.6, 1.3, 2.0):
        fill(cast, tuple(map(tuple, part + away * reach * share)), 255)
    fill(touch, tuple(map(tuple, part)), 255)
    soft_cast = cv2.GaussianBlur(cast.astype(np.float32) / 255, (0, 0), 0.6 + 0.22 * reach)
    soft_touch = cv2.GaussianBlur(touch.astype(np.float32) / 255, (0, 0), 0.5 + 0.8 * reach)
    return (1 - 0.72 * soft_cast) * (1 - 0.22 * soft_touch)


def _coarse_places(view: View) -> tuple[Floats, Floats]:
    """Place across and down the picture; the picture is 2 wide and its middle is 0, 0."""
    camera = view.camera
    rows, columns = camera.height_px // STEP_PX + 2, camera.width_px // STEP_PX + 2
    across = (np.arange(columns, dtype=np.float32) - (columns - 1) / 2) / (columns / 2)
    down = (np.arange(rows, dtype=np.float32) - (rows - 1) / 2) / (columns / 2)
    x, y = np.meshgrid(across, down)
    return x, y
