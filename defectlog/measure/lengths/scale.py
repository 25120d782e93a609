"""How many pixels a millimetre takes on a photo, how that is known and how sure it is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectlog.errors import DefectlogError

Point = tuple[float, float]
Polygon = tuple[Point, ...]
Matrix3 = tuple[tuple[float, float, float], ...]
ScaleSource = Literal["card", "given", "points", "none"]

# How far off a person points at least, on an enlarged photo, 95 % of the time, and how well the
# length between the two points is known. Both are judgement, stated with the scale.
POINTING_PX = 3.0
READING_MM = 0.5


class BadScaleError(DefectlogError):
    """A scale was given that no photo can have."""


@dataclass(frozen=True, slots=True)
class Scale:
    """The scale of one photo, in the plane of the surface.

    Attributes
    ----------
    source : how it is known: ``"card"``, ``"given"``, ``"points"`` or ``"none"``.
    px_per_mm : pixels a millimetre takes at the middle of the picture, the square root of
        the pixels a square millimetre takes there; None without a scale.
    uncertainty_pct : half-width of the 95 % interval of ``px_per_mm``, in per cent of it;
        None where it is not known.
    tilt_deg : angle between the surface and square-on, None where it is not known.
    homography : 3 x 3, takes (x, y, 1) in pixels to the plane of the surface in mm.
    card_outlines : what covers the surface where the card lies, in pixels, to be left out
        of every measurement.
    warnings : sentences for the maker.
    """

    source: ScaleSource
    px_per_mm: float | None = None
    uncertainty_pct: float | None = None
    tilt_deg: float | None = None
    homography: Matrix3 | None = None
    card_outlines: tuple[Polygon, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def is_known(self) -> bool:
        """Whether pixels can be turned into millimetres."""
        return self.px_per_mm is not None

    def to_mm(self, points: Sequence[Point] | NDArray[np.floating]) -> NDArray[np.float64]:
        """Lay points (x, y) of the picture into the plane of the surface.

        Parameters
        ----------
        points : (n, 2), pixels of the upright picture

        Returns
        -------
        (n, 2) float64 array, mm; the origin is of no meaning.

        Raises
        ------
        ValueError
            If there is no scale: ask ``is_known`` first.
        """
        places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        if self.px_per_mm is None:
            raise ValueError("this picture has no scale")
        if self.homography is None:
            return places / self.px_per_mm
        flat = np.column_stack([places, np.ones(len(places))]) @ np.array(self.homography).T
        return flat[:, :2] / flat[:, 2:]

    def px_per_mm_at(
        self, x: float | NDArray[np.floating], y: float | NDArray[np.floating]
    ) -> NDArray[np.float64] | None:
        """Pixels a millimetre takes at a place, by area: the root of px² per mm² there."""
        if self.px_per_mm is None:
            return None
        x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        if self.homography is None:
            return np.full(np.broadcast(x, y).shape, self.px_per_mm)
        h = np.array(self.homography)
        w = h[2, 0] * x + h[2, 1] * y + h[2, 2]
        # The determinant of the Jacobian of a homography is det(H) / w³.
        mm2_per_px2 = np.abs(np.linalg.det(h) / w**3)
        return 1.0 / np.sqrt(mm2_per_px2)

    def length_mm(self, line: Sequence[Point]) -> float | None:
        """Length of a line through the points, in mm; None without a scale."""
        if self.px_per_mm is None:
            return None
        steps = np.diff(self.to_mm(line), axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())

    def area_mm2(self, outline: Sequence[Point]) -> float | None:
        """Area inside an outline, in mm²; None without a scale."""
        if self.px_per_mm is None:
            return None
        return polygon_area(self.to_mm(outline))


NO_SCALE = Scale("none")


def polygon_area(points: Sequence[Point] | NDArray[np.floating]) -> float:
    """Area inside a closed outline that does not cross itself (the shoelace sum)."""
    places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(places) < 3:
        return 0.0
    x, y = (places - places.mean(axis=0)).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def given_scale(px_per_mm: float) -> Scale:
    """A scale somebody states; how sure it is, only they know.

    Raises
    ------
    BadScaleError
        If it is not a positive number.
    """
    if not (math.isfinite(px_per_mm) and px_per_mm > 0):
        raise BadScaleError(
            "A scale is a number of pixels per millimetre above 0",
            "give the pixels that one millimetre takes on the photo, such as 12.5",
        )
    return Scale("given", px_per_mm=float(px_per_mm))


def scale_from_points(
    p: Point,
    q: Point,
    length_mm: float,
    *,
    pointing_px: float = POINTING_PX,
    reading_mm: float = READING_MM,
) -> Scale:
    """A scale from two points whose distance on the surface is known.

    Parameters
    ----------
    p, q : (x, y) in pixels of the upright picture
    length_mm : their distance on the surface
    pointing_px : how far off each point may be (95 %)
    reading_mm : how far off the length may be (95 %)

    Returns
    -------
    Scale
        ``uncertainty_pct`` joins both pointings and the length in root-sum-square. Tilt
        cannot be known from two points, and is not part of it.

    Raises
    ------
    BadScaleError
        If the length is not above 0 or the points lie too close together to say anything.
    """
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise BadScaleError(
            "The length between the two points has to be above 0 mm",
            "type the distance you measured on the part, in millimetres",
        )
    distance_px = math.hypot(q[0] - p[0], q[1] - p[1])
    if not math.isfinite(distance_px) or distance_px < 4 * pointing_px:
        raise BadScaleError(
            "The two points lie too close together for a scale",
            "choose two points further apart, best across most of the photo, or come closer",
        )
    pointing = math.sqrt(2) * pointing_px / distance_px
    uncertainty_pct = 100 * math.hypot(pointing, reading_mm / length_mm)
    warnings = [
        f"Scale from two points, each taken as sure to ±{pointing_px:.3g} px and the length to "
        f"±{reading_mm:g} mm; it holds only if the camera looked squarely at the surface."
    ]
    if uncertainty_pct > 5:
        warnings.append(
            f"The scale is only known to ±{uncertainty_pct:.0f} %: choose points further apart, "
            "come closer to point at them, or put the cross-hair on them (Aim)."
        )
    return Scale(
        "points",
        px_per_mm=distance_px / length_mm,
        uncertainty_pct=uncertainty_pct,
        warnings=tuple(warnings),
    )
