"""What a photo of the invented workshop is to show, in millimetres, and what is true of it."""

import enum
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.demo.weave import Cloth

Point = tuple[float, float]
Outline = tuple[Point, ...]


class Side(enum.Enum):
    """Which side of the laminate faces the camera."""

    TOOL = "tool"
    BAG = "bag"


@dataclass(frozen=True, slots=True)
class Surface:
    """The laminate itself. ``amber`` 0–1 is how yellow the cured resin is."""

    cloth: Cloth
    side: Side
    pitch_mm: float
    turn_deg: float = 0.0
    cored: bool = True
    amber: float = 0.15


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the phone is: ``px_per_mm`` holds where ``look_at_mm`` meets the picture's middle."""

    px_per_mm: float
    look_at_mm: Point = (0.0, 0.0)
    turn_deg: float = 0.0
    tilt_x_deg: float = 0.0
    tilt_y_deg: float = 0.0
    width_px: int = 2400
    height_px: int = 1800
    blur_px: float = 0.9


@dataclass(frozen=True, slots=True)
class Lamp:
    """Raking light. ``from_deg`` is the side it comes from in the picture, 0 right, 90 below."""

    from_deg: float = 215.0
    falloff: float = 0.8
    warmth: float = 0.3
    glare: float = 0.0
    glare_at: Point = (0.75, 0.25)


@dataclass(frozen=True, slots=True)
class Pinholes:
    """Open pits scattered over an ellipse of the face, or over all of it without ``size_mm``."""

    count: int
    median_mm: float
    centre_mm: Point = (0.0, 0.0)
    size_mm: Point | None = None
    kind: str = "pinholes-tool"


@dataclass(frozen=True, slots=True)
class DrySpot:
    """A pale matt island that resin never reached."""

    centre_mm: Point
    size_mm: Point
    kind: str = "dry-spot"


@dataclass(frozen=True, slots=True)
class TornPly:
    """Streaks of lifted, broken fibre along the pull from ``start_mm`` to ``end_mm``."""

    start_mm: Point
    end_mm: Point
    width_mm: float
    kind: str = "peel-tear"


@dataclass(frozen=True, slots=True)
class Smears:
    """Amber residue in the pattern of a spray can."""

    centre_mm: Point
    size_mm: Point
    amount: float = 1.0
    kind: str = "tacky-adhesive"


@dataclass(frozen=True, slots=True)
class Bridge:
    """A hollow line along an inside radius that the plies did not reach."""

    start_mm: Point
    end_mm: Point
    width_mm: float = 2.4
    kind: str = "bridging"


@dataclass(frozen=True, slots=True)
class Lean:
    """A patch where the weave stands proud, short of resin."""

    centre_mm: Point
    size_mm: Point
    kind: str = "starved-bag"


@dataclass(frozen=True, slots=True)
class Crease:
    """The print of a bag pleat or of a feed line: a ridge along a bent path."""

    path_mm: Outline
    height: float = 1.0
    width_mm: float = 1.6
    kind: str = "pleat-imprint"


@dataclass(frozen=True, slots=True)
class SoftPatch:
    """Resin that has not cured: a sweaty gloss with the dents of a thumbnail."""

    centre_mm: Point
    size_mm: Point
    dents: int = 5
    kind: str = "tacky-undercure"


@dataclass(frozen=True, slots=True)
class SandedPatch:
    """Where a repair was filled and rubbed back: smoother, paler, its weave dimmed."""

    centre_mm: Point
    size_mm: Point
    kind: str = ""


Defect = Pinholes | DrySpot | TornPly | Smears | Bridge | Lean | Crease | SoftPatch | SandedPatch


@dataclass(frozen=True, slots=True)
class LaidCard:
    """Which scale card lies in the plane of the surface, where its middle is, and how turned."""

    layout: str
    centre_mm: Point
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class PhotoSpec:
    """One photo to be rendered; the same spec gives the same picture, byte for byte."""

    outline_mm: Outline
    surface: Surface
    camera: Camera
    lamp: Lamp = Lamp()
    bench: str = "plywood"
    thickness_mm: float = 8.0
    draft: float = 0.7  # how far the edge spreads below the face, as a share of the thickness
    holes_mm: tuple[Outline, ...] = ()
    radius_mm: tuple[Point, Point] | None = None  # an inside radius runs along this line
    defects: tuple[Defect, ...] = ()
    card: LaidCard | None = None
    seed: int = 0
    surface_seed: int = 0  # photos of one surface share it: the same pits in the same places


@dataclass(frozen=True, slots=True)
class DrawnDefect:
    """A defect as it came to lie in the photo: its kind and its outline in pixels (x, y)."""

    kind: str
    outline_px: Outline


@dataclass(frozen=True, slots=True)
class Truth:
    """What is known of a rendered photo because it was drawn so.

    ``void_cover`` is (H, W) uint8: how much of each pixel is void, 255 being all of it.
    Outlines are (x, y) in pixels of the photo. ``px_per_mm`` holds in the middle.
    """

    void_cover: NDArray[np.uint8]
    part_px: Outline
    holes_px: tuple[Outline, ...]
    card_px: Outline | None
    px_per_mm: float
    defects: tuple[DrawnDefect, ...]

    def void_fraction(self, region_px: Outline | None = None) -> float:
        """Void share 0–1 of the part, or of ``region_px``; the card and holes never count."""
        where = np.zeros(self.void_cover.shape, np.uint8)
        fill(where, region_px or self.part_px, 1)
        for outline in self.holes_px:
            fill(where, outline, 0)
        if self.card_px is not None:
            fill(where, self.card_px, 0)
        inside = where.astype(bool)
        return float(self.void_cover[inside].sum(dtype=np.float64) / 255 / inside.sum())


def fill(image: NDArray[np.uint8], outline_px: Outline, value: int, *, soft: bool = False) -> None:
    """Fill an outline to a sixteenth of a pixel, in place."""
    points = np.round(np.asarray(outline_px, np.float64) * 16).astype(np.int32)
    cv2.fillPoly(image, [points], value, cv2.LINE_AA if soft else cv2.LINE_8, shift=4)
