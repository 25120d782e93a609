"""A printed dot sheet photographed: the PDF itself, seen by a camera of known faults."""

import io
import math

import cv2
import numpy as np
import pymupdf
from numpy.typing import NDArray
from PIL import Image

from defectlog.report.dot_sheet import dot_sheet_pdf

DPI = 400
PAPER, INK, TABLE = 0.62, 0.03, 0.08  # light given back, of the light the camera takes as white
FINE = 2


def printed(paper: str) -> NDArray[np.float32]:
    """The sheet as a printer would lay it down, share of ink per pixel, 0–1."""
    page = pymupdf.open(stream=dot_sheet_pdf(paper), filetype="pdf")[0]
    pixmap = page.get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY)
    grey = np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width)
    return 1 - grey.astype(np.float32) / 255


def photographed(
    paper: str,
    *,
    tilt_deg: float = 4.0,
    axis_deg: float = 30.0,
    px_per_mm: float = 9.0,
    blur_px: float = 0.7,
    noise: float = 0.006,
    rake: float = 0.25,
    quality: int = 90,
    beside_mm: tuple[float, float] = (0.0, 0.0),
    seed: int = 5,
) -> bytes:
    """A JPEG of the sheet on a dark table: tilted, lit from one side, blurred and noisy."""
    sheet = PAPER + (INK - PAPER) * printed(paper)
    tall, wide = (side * 25.4 / DPI for side in sheet.shape)
    width, height = round((wide + 16) * px_per_mm), round((tall + 20) * px_per_mm)
    focal = 1.2 * height
    turn = math.radians(axis_deg)
    axis = np.array([math.cos(turn), math.sin(turn), 0.0]) * math.radians(tilt_deg)
    rotation = cv2.Rodrigues(axis)[0]
    camera = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    plane = camera @ np.column_stack([rotation[:, 0], rotation[:, 1], [0, 0, focal / px_per_mm]])
    middle = np.array(
        [[1, 0, beside_mm[0] - wide / 2], [0, 1, beside_mm[1] - tall / 2], [0, 0, 1.0]]
    )
    k = DPI / 25.4
    from_print = np.array([[1 / k, 0, 0.5 / k], [0, 1 / k, 0.5 / k], [0, 0, 1.0]])
    fine = np.array([[FINE, 0, (FINE - 1) / 2], [0, FINE, (FINE - 1) / 2], [0, 0, 1.0]])
    light = np.full((FINE * height, FINE * width), TABLE, np.float32)
    onto = fine @ plane @ middle @ from_print
    cv2.warpPerspective(
        sheet, onto, light.shape[::-1], dst=light, borderMode=cv2.BORDER_TRANSPARENT
    )
    light = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    light *= 1 + rake * (0.7 * x + 0.3 * y - 0.2 * x * y)
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    chance = np.random.default_rng(seed)
    light += noise * np.sqrt(light) * chance.standard_normal(light.shape, dtype=np.float32)
    grey = np.round(np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(grey).save(out, "JPEG", quality=quality)
    return out.getvalue()
