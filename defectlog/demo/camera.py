"""From the plane of the part to the picture, and from light to a JPEG file with a date."""

import io
from dataclasses import dataclass
from datetime import datetime
from math import cos, radians, sin

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from defectlog.demo.spec import Camera, Outline, Point
from defectlog.demo.weave import Bytes, Floats

STEP_PX = 12  # slow fields are worked out on every twelfth pixel and stretched
FOCAL_IN_WIDTHS = 1.25  # a phone's plain lens
_LIGHT_STEPS = 4096
SHIFTED_PX = 256  # at most, for the noise of one photo against that of another
EXIF_MADE_ON, EXIF_ORIGINAL, EXIF_MAKER, EXIF_SOFTWARE = 0x0132, 0x9003, 0x010F, 0x0131


@dataclass(frozen=True, slots=True)
class View:
    """The camera's projection. ``to_px`` is the 3×3 homography from mm (x, y) to pixels."""

    to_px: NDArray[np.float64]
    camera: Camera

    def points_px(self, outline_mm: Outline) -> Outline:
        """Where points of the part's plane lie in the picture."""
        points = np.asarray(outline_mm, np.float64).reshape(-1, 1, 2)
        return tuple(map(tuple, cv2.perspectiveTransform(points, self.to_px)[:, 0].tolist()))

    def point_px(self, point_mm: Point) -> Point:
        return self.points_px((point_mm,))[0]

    def scale_at(self, point_mm: Point) -> float:
        """Pixels per millimetre around one point, by area."""
        x, y = point_mm
        square = self.points_px(((x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)))
        return float(np.sqrt(cv2.contourArea(np.asarray(square, np.float32))))

    def coarse_mm(self) -> Floats:
        """The point of the plane under every twelfth pixel and one row around, (h, w, 2)."""
        rows, columns = self.camera.height_px // STEP_PX, self.camera.width_px // STEP_PX
        x = (np.arange(-1, columns + 1) + 0.5) * STEP_PX - 0.5
        y = (np.arange(-1, rows + 1) + 0.5) * STEP_PX - 0.5
        grid = np.dstack(np.meshgrid(x, y)).astype(np.float64)
        mm = cv2.perspectiveTransform(grid, np.linalg.inv(self.to_px))
        return mm.astype(np.float32)


def look(camera: Camera) -> View:
    """Work out the projection of a camera tilted a little about both axes."""
    focal = FOCAL_IN_WIDTHS * camera.width_px
    a, b, c = (radians(d) for d in (camera.tilt_x_deg, camera.tilt_y_deg, camera.turn_deg))
    about_x = np.array([[1, 0, 0], [0, cos(a), -sin(a)], [0, sin(a), cos(a)]])
    about_y = np.array([[cos(b), 0, sin(b)], [0, 1, 0], [-sin(b), 0, cos(b)]])
    about_z = np.array([[cos(c), -sin(c), 0], [sin(c), cos(c), 0], [0, 0, 1]])
    turned = about_x @ about_y @ about_z
    pose = np.column_stack([turned[:, 0], turned[:, 1], [0, 0, focal / camera.px_per_mm]])
    lens = np.array(
        [[focal, 0, (camera.width_px - 1) / 2], [0, focal, (camera.height_px - 1) / 2], [0, 0, 1]]
    )
    x, y = camera.look_at_mm
    moved = np.array([[1, 0, -x], [0, 1, -y], [0, 0, 1]])
    return View(to_px=lens @ pose @ moved, camera=camera)


def stretched(coarse: Floats, camera: Camera) -> Floats:
    """A coarse field, with its one row around, at the size of the picture."""
    rows, columns = coarse.shape
    size = (columns * STEP_PX, rows * STEP_PX)
    full = cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR)
    return full[STEP_PX : STEP_PX + camera.height_px, STEP_PX : STEP_PX + camera.width_px]


_GAMMA = (np.linspace(0, 1, _LIGHT_STEPS) ** (1 / 2.2) * 255).astype(np.float32)
_TO_BYTES = np.round(_GAMMA).astype(np.uint8)


def develop(planes: list[Floats], blur_px: float, rng: np.random.Generator) -> Bytes:
    """Blue, green, red in linear light 0–1 to an RGB picture: lens blur, sensor noise, gamma."""
    picture = np.empty((*planes[0].shape, 3), np.uint8)
    rows, columns = planes[0].shape
    grain = _grain(rows + SHIFTED_PX, columns + SHIFTED_PX)
    for index, plane in enumerate(planes):
        seen = cv2.GaussianBlur(plane, (0, 0), blur_px)
        # Shot noise grows with the root of the light; a little is always there.
        down, across = (int(value) for value in rng.integers(0, SHIFTED_PX, 2))
        noise = grain[down : down + rows, across : across + columns]
        spread = cv2.sqrt(cv2.max(seen, 0.0)) * 0.006
        seen = cv2.add(seen, cv2.multiply(noise, spread + 0.0003))
        steps = cv2.min(cv2.max(seen, 0.0), 1.0) * (_LIGHT_STEPS - 1)
        picture[..., 2 - index] = _TO_BYTES[steps.astype(np.uint16)]
    return picture


_grain_kept: list[Floats] = []


def _grain(rows: int, columns: int) -> Floats:
    """One sheet of sensor noise, larger than the demo's photos, shifted about from one to the next.

    For larger photos it is laid side by side.
    """
    if not _grain_kept:
        rng = np.random.default_rng(97)
        sheet = rng.standard_normal((2400 + SHIFTED_PX,) * 2, dtype=np.float32)
        _grain_kept.append(sheet)
    (sheet,) = _grain_kept
    beyond = [(0, max(0, side - len(sheet))) for side in (rows, columns)]
    return np.pad(sheet, beyond, mode="wrap") if np.any(beyond) else sheet


def as_jpeg(picture: Bytes, taken: datetime) -> bytes:
    """The picture as a phone would save it: JPEG, quality 90, with when it was taken."""
    exif = Image.Exif()
    stamp = taken.strftime("%Y:%m:%d %H:%M:%S")
    exif[EXIF_MADE_ON] = stamp
    exif[EXIF_SOFTWARE] = "rendered by defectlog demo"
    exif.get_ifd(0x8769)[EXIF_ORIGINAL] = stamp
    buffer = io.BytesIO()
    Image.fromarray(picture).save(buffer, "JPEG", quality=90, exif=exif)
    return buffer.getvalue()
