"""Scale cards photographed: drawn in mm, seen by a camera of known place."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.lengths.card import CardLayout, marker_cells

DRAWN_PX_PER_MM = 20
WHITE, BLACK, GROUND = 0.75, 0.04, 0.10


def drawn_card(layout: CardLayout) -> NDArray[np.float32]:
    """The card from above, linear light, 20 px a millimetre."""
    k = DRAWN_PX_PER_MM
    width, height = (round(side * k) for side in layout.size_mm)
    card = np.full((height, width), WHITE, np.float32)
    for marker in layout.markers:
        # The ID-1 card is no whole number of 1/20 mm wide; its markers are set by corners.
        corners = np.array(marker.corners_mm) * k - 0.5
        cells = np.where(np.array(marker_cells(marker.id)), BLACK, WHITE).astype(np.float32)
        square = cv2.resize(cells, (600, 600), interpolation=cv2.INTER_NEAREST)
        onto = cv2.getPerspectiveTransform(
            np.array([(-0.5, -0.5), (599.5, -0.5), (599.5, 599.5), (-0.5, 599.5)], np.float32),
            corners.astype(np.float32),
        )
        cv2.warpPerspective(
            square, onto, (width, height), dst=card, borderMode=cv2.BORDER_TRANSPARENT
        )
    return card


def seen(
    card: NDArray[np.float32],
    *,
    tilt_deg: float = 0.0,
    axis_deg: float = 0.0,
    px_per_mm: float = 9.7,
    blur_px: float = 0.8,
    size: tuple[int, int] = (1200, 1600),
    at_mm: tuple[float, float] = (-60.0, -45.0),
    gamma: float = 2.2,
) -> tuple[NDArray[np.uint8], float, NDArray[np.float64]]:
    """Photograph a card lying on a surface.

    Returns the picture, its true px/mm (by area) at the middle, and the projection from
    mm on the card to px.
    """
    height, width = size
    focal = 0.75 * width
    turn = math.radians(axis_deg)
    axis = np.array([math.cos(turn), math.sin(turn), 0.0]) * math.radians(tilt_deg)
    rotation = cv2.Rodrigues(axis)[0]
    camera = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    plane = camera @ np.column_stack([rotation[:, 0], rotation[:, 1], [0, 0, focal / px_per_mm]])
    card_to_px = plane @ np.array([[1, 0, at_mm[0]], [0, 1, at_mm[1]], [0, 0, 1.0]])
    k = DRAWN_PX_PER_MM
    from_drawn = card_to_px @ np.array([[1 / k, 0, 0.5 / k], [0, 1 / k, 0.5 / k], [0, 0, 1.0]])
    fine = np.array([[2, 0, 0.5], [0, 2, 0.5], [0, 0, 1.0]])
    light = np.full((2 * height, 2 * width), GROUND, np.float32)
    cv2.warpPerspective(
        card,
        fine @ from_drawn,
        (2 * width, 2 * height),
        dst=light,
        borderMode=cv2.BORDER_TRANSPARENT,
    )
    light = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    light += np.random.default_rng(7).normal(0, 0.004, light.shape).astype(np.float32)
    grey = np.round(np.clip(light, 0, 1) ** (1 / gamma) * 255).astype(np.uint8)
    # At the middle, a square of 1 mm on a plane turned by t covers px_per_mm² cos t pixels.
    true = px_per_mm * math.sqrt(math.cos(math.radians(tilt_deg)))
    return grey, true, card_to_px


def seen_on_a_cylinder(
    card: NDArray[np.float32], radius_mm: float, *, px_per_mm: float
) -> NDArray[np.uint8]:
    """Photograph a card wrapped on an upright cylinder, from straight above its ridge."""
    height, width = 1200, 1600
    focal = 0.75 * width
    away = focal / px_per_mm + radius_mm  # from the camera to the axis
    y, x = np.mgrid[:height, :width].astype(np.float64)
    x, y = (x - (width - 1) / 2) / focal, (y - (height - 1) / 2) / focal
    # Where the ray t (x, y, 1) meets the cylinder first: t² (x² + 1) - 2 t a + a² - r² = 0.
    root = away**2 - (x**2 + 1) * (away**2 - radius_mm**2)
    t = (away - np.sqrt(np.maximum(root, 0))) / (x**2 + 1)
    along = radius_mm * np.arctan2(t * x, away - t)
    on_card = (along + 50, t * y + 40)  # its middle lies on the ridge
    across, down = ((DRAWN_PX_PER_MM * place - 0.5).astype(np.float32) for place in on_card)
    soft = cv2.GaussianBlur(card, (0, 0), DRAWN_PX_PER_MM / px_per_mm / 2)
    light = cv2.remap(soft, across, down, cv2.INTER_LINEAR, borderValue=GROUND)
    light = cv2.GaussianBlur(light, (0, 0), 0.8)
    light += np.random.default_rng(7).normal(0, 0.004, light.shape).astype(np.float32)
    return np.round(np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)
