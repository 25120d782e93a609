"""One surface photographed twice, by projections that are known."""

import math

import cv2
import numpy as np

from defectlog.measure.lengths.scale import Scale
from tests.pictures import Surface, render

PX_PER_MM = 9.0
SIZE = (1000, 800)


def surface(seed: int, **more) -> np.ndarray:
    drawn = Surface(size_mm=(130, 100), px_per_mm=PX_PER_MM, seed=seed, fraction=0.004, **more)
    return render(drawn).grey


def projection(turn_deg: float, shift_px: tuple[float, float], tilt: float = 0.0) -> np.ndarray:
    """From pixels of the drawn surface to those of a photo of it (textbook pinhole camera)."""
    turn = math.radians(turn_deg)
    middle = np.array([[1, 0, -585], [0, 1, -450], [0, 0, 1.0]])
    turned = np.array(
        [[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [tilt, 0, 1]]
    )
    back = np.array([[0.8, 0, 500 + shift_px[0]], [0, 0.8, 400 + shift_px[1]], [0, 0, 1.0]])
    return back @ turned @ middle


def photo(grey: np.ndarray, seen: np.ndarray, *, light: float = 1.0, seed: int = 1) -> np.ndarray:
    """The surface as a camera sees it, in a light of its own, with noise of its own."""
    taken = cv2.warpPerspective(grey, seen, SIZE, flags=cv2.INTER_AREA, borderValue=40)
    x = np.linspace(light, 1.2 - 0.2 * light, SIZE[0])
    noise = np.random.default_rng(seed).normal(0, 2, taken.shape)
    return np.clip(taken * x + noise, 0, 255).astype(np.uint8)


def scale(seen: np.ndarray, outlines=()) -> Scale:
    to_mm = np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1]) @ np.linalg.inv(seen)
    rows = tuple(tuple(float(value) for value in row) for row in to_mm)
    return Scale("card", 0.8 * PX_PER_MM, 0.5, 0.0, rows, outlines)
