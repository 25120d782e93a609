"""A photo of the dot sheet read: what the fields should hold and what measuring makes of them."""

import statistics
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from defectlog.errors import DefectlogError
from defectlog.measure.arrays.light import GreyImage, grey_of
from defectlog.measure.cloth.glare import BURNT_OUT
from defectlog.measure.cloth.surface import NoContrastError
from defectlog.measure.dot_sheet import (
    DIAMETERS_MM,
    DOT_PAPERS,
    DotField,
    DotSheet,
    dot_sheet,
    nearest_disc,
)
from defectlog.measure.figures.beware import NEARLY_BLACK
from defectlog.measure.figures.fraction import measuring_interval
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.lengths.markers import find_card
from defectlog.measure.lengths.plane import through
from defectlog.measure.lengths.scale import Polygon, Scale
from defectlog.measure.voids import measure_voids

# How far beside its place a disc may turn up: a lens bends the picture by more than the markers
# can tell.
ASTRAY_MM = 0.4
CROP_PX = 8  # beyond a field on every side
# Grey values one below those that are taken for glare, which paper burnt out is not.
DULLED = np.rint(np.arange(256) * ((BURNT_OUT - 1) / 255)).astype(np.uint8)


class NoDotSheetError(DefectlogError):
    """No dot sheet of ours could be found on the picture, or none of its fields is whole."""


@dataclass(frozen=True, slots=True)
class FieldReading:
    """One field measured. Fractions 0–1; ``low`` and ``high`` as ``measure_voids`` gives them.

    ``is_white`` if its paper is burnt out, as on many a scan and on the drawing itself.
    """

    letter: str
    printed_fraction: float
    measured_fraction: float
    low: float
    high: float
    printed_count: int
    measured_count: int
    warnings: tuple[str, ...]
    is_white: bool = False

    @property
    def error(self) -> float:
        """Measured less printed."""
        return self.measured_fraction - self.printed_fraction

    @property
    def is_covered(self) -> bool:
        """Whether the interval holds the printed fraction."""
        return self.low <= self.printed_fraction <= self.high


@dataclass(frozen=True, slots=True)
class DiameterReading:
    """The discs of one diameter: how many were printed and found, and how large they came out.

    ``measured_mm`` is the median of those found, None if none was.
    """

    printed_mm: float
    printed_count: int
    found_count: int
    measured_mm: float | None


@dataclass(frozen=True, slots=True)
class DotReading:
    """A dot sheet read from a photo. ``not_seen`` are the letters of fields cut off by its edge."""

    paper: str
    scale: Scale
    fields: tuple[FieldReading, ...]
    diameters: tuple[DiameterReading, ...]
    not_seen: tuple[str, ...]

    @property
    def covered_count(self) -> int:
        """How many of the fields' intervals hold the printed fraction."""
        return sum(field.is_covered for field in self.fields)

    @property
    def mean_error(self) -> float:
        """Mean over the fields of how far measured and printed fraction lie apart, 0–1."""
        return statistics.fmean(abs(field.error) for field in self.fields)


def read_dot_sheet(image: NDArray[np.uint8]) -> DotReading:
    """Find the dot sheet on a picture and measure each of its fields as a surface with voids.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue, uint8, upright

    Returns
    -------
    DotReading
        Of the fields that lie wholly on the picture.

    Raises
    ------
    NoDotSheetError
        If no marker of the sheet was found, or no field lies wholly on the picture.
    NothingInspectedError, NoContrastError
        As ``measure_voids``, if a field is all glare or black.

    Notes
    -----
    Each field is measured by ``measure_voids`` alone, with nothing told but its outline and
    the scale. A disc counts as found if a void of about its size, within a factor of two, is
    nearest to it. Where most of a field is burnt out it is the paper that is, not glare: its
    grey values are lowered evenly, which leaves every ratio of light as it was, and measured.
    """
    grey = grey_of(image)
    sheet, scale = _find_sheet(grey)
    fields: list[FieldReading] = []
    sizes: dict[float, list[float]] = {d: [] for d in DIAMETERS_MM}
    printed = dict.fromkeys(DIAMETERS_MM, 0)
    not_seen: list[str] = []
    for field in sheet.fields:
        outline = _on_picture(field, scale)
        if not _is_inside(outline, grey.shape):
            not_seen.append(field.letter)
            continue
        for disc in field.discs:
            printed[disc.d_mm] += 1
        piece, own_scale, region = _cut_out(grey, outline, scale)
        is_white = _is_burnt_out(piece)
        try:
            measured = measure_voids(
                DULLED[piece] if is_white else piece, region=region, scale=own_scale
            )
        except NoContrastError:
            if not _is_lit(grey, outline):
                raise
            fields.append(_blank(field, is_white))
            continue
        fields.append(_reading(field, measured, is_white))
        _match(field, measured, own_scale, sizes)
    if not fields:
        raise NoDotSheetError(
            "No field of the dot sheet lies wholly on the photo",
            "step back until all four squares in its corners are in the picture",
        )
    return DotReading(
        sheet.paper, scale, tuple(fields), _diameters(printed, sizes), tuple(not_seen)
    )


def _find_sheet(grey: GreyImage) -> tuple[DotSheet, Scale]:
    for paper in DOT_PAPERS:
        sheet = dot_sheet(paper)
        scale = find_card(grey, {paper: sheet.card})
        if scale is not None:
            # The whole sheet is the card here, and what is to be measured lies on it.
            return sheet, replace(scale, card_outlines=())
    raise NoDotSheetError(
        "No dot sheet was found on the photo",
        "lay the printed sheet flat and take it again, sharp, with its four corner squares in view",
    )


def _on_picture(field: DotField, scale: Scale) -> Polygon:
    return through(np.linalg.inv(np.array(scale.homography)), np.array(field.outline_mm))


def _is_inside(outline: Polygon, shape: tuple[int, int]) -> bool:
    corners = np.array(outline)
    return bool((corners >= 0).all() and (corners <= (shape[1] - 1, shape[0] - 1)).all())


def _cut_out(grey: GreyImage, outline: Polygon, scale: Scale) -> tuple[GreyImage, Scale, Polygon]:
    """The piece of the picture one field is on, with the scale and its outline moved along."""
    corners = np.array(outline)
    left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int) - CROP_PX, 0)
    right, low = np.ceil(corners.max(axis=0)).astype(int) + CROP_PX
    piece = np.ascontiguousarray(grey[top:low, left:right])
    moved = np.array(scale.homography) @ np.array([[1, 0, left], [0, 1, top], [0, 0, 1]])
    at_middle = scale.px_per_mm_at(*corners.mean(axis=0))
    own = replace(
        scale,
        homography=tuple(tuple(float(v) for v in row) for row in moved),
        px_per_mm=None if at_middle is None else float(at_middle),
        warnings=(),
    )
    return piece, own, tuple((float(x), float(y)) for x, y in corners - (left, top))


def _is_burnt_out(piece: GreyImage) -> bool:
    return float(np.median(piece[::3, ::3])) >= BURNT_OUT


def _is_lit(grey: GreyImage, outline: Polygon) -> bool:
    """Whether a field is not black."""
    x, y = np.array(outline).mean(axis=0).round().astype(int)
    return bool(grey[y, x] > NEARLY_BLACK)


def _blank(field: DotField, is_white: bool) -> FieldReading:
    """A field of one shade, as a drawing shows it and no camera does: nothing on it."""
    low, high = measuring_interval(0.0, 0.0)
    shade = "pure white" if is_white else "all of one shade"
    return FieldReading(
        letter=field.letter,
        printed_fraction=field.printed_fraction,
        measured_fraction=0.0,
        low=low,
        high=high,
        printed_count=len(field.discs),
        measured_count=0,
        warnings=(f"The field is {shade}, as no camera sees paper: nothing shows on it.",),
        is_white=is_white,
    )


def _reading(field: DotField, measured: VoidMeasurement, is_white: bool) -> FieldReading:
    return FieldReading(
        letter=field.letter,
        printed_fraction=field.printed_fraction,
        measured_fraction=measured.void_fraction,
        low=measured.void_fraction_low,
        high=measured.void_fraction_high,
        printed_count=len(field.discs),
        measured_count=measured.count,
        warnings=measured.warnings,
        is_white=is_white,
    )


def _match(
    field: DotField, measured: VoidMeasurement, scale: Scale, sizes: dict[float, list[float]]
) -> None:
    """Add each void's diameter to those of the printed discs it belongs to."""
    taken: set[int] = set()
    for void in measured.voids:
        place = tuple(scale.to_mm([(void.x, void.y)])[0])
        nearest = nearest_disc(field, place)
        if nearest is None or void.d_mm is None:
            continue
        index, away = nearest
        d = field.discs[index].d_mm
        if index not in taken and away <= max(ASTRAY_MM, d / 4) and 0.5 < void.d_mm / d < 2:
            taken.add(index)
            sizes[d].append(void.d_mm)


def _diameters(
    printed: Mapping[float, int], sizes: Mapping[float, list[float]]
) -> tuple[DiameterReading, ...]:
    return tuple(
        DiameterReading(d, count, len(sizes[d]), statistics.median(sizes[d]) if sizes[d] else None)
        for d, count in printed.items()
        if count
    )
