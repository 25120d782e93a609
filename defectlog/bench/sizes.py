"""How big a mark and a finding are, in words, in mm once the photo has a scale."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from defectlog.measure.lengths.extent import Extent, mark_extent
from defectlog.measure.lengths.scale import NO_SCALE, POINTING_PX, Scale
from defectlog.records import Finding, Mark, Photo, PhotoScale
from defectlog.units import NBSP, with_unit


@dataclass(frozen=True, slots=True)
class Size:
    """The size of a finding: its longest extent, how sure, and the words for it."""

    longest_mm: float | None
    uncertainty_pct: float | None
    words: str


def scale_of(photo: Photo) -> Scale:
    """The scale in force on a photo, as the measuring room wants it."""
    return NO_SCALE if photo.scale is None else read_scale(photo.scale)


def read_scale(row: PhotoScale) -> Scale:
    """A stored scale as a value."""
    return Scale(
        source=row.source,  # type: ignore[arg-type]
        px_per_mm=row.px_per_mm,
        uncertainty_pct=row.uncertainty_pct,
        tilt_deg=row.tilt_deg,
        homography=None
        if row.homography is None
        else tuple(tuple(line) for line in row.homography),  # type: ignore[misc]
        card_outlines=tuple(
            tuple((x, y) for x, y in outline) for outline in row.card_outlines or ()
        ),
        warnings=tuple(row.warnings or ()),
    )


def extent_of(mark: Mark) -> Extent:
    """The size of a mark by the scale of its photo."""
    return mark_extent(mark.shape.value, [(x, y) for x, y in mark.points], scale_of(mark.photo))


def extent_words(extent: Extent) -> str:
    """A mark's size: ``38.0 ± 0.4 mm long``, ``14.2 ± 0.3 mm across, about 92 mm²``, or in px."""
    if extent.longest_px is None:
        return "a spot, no size"
    pct = doubt_pct(extent)
    if extent.length_px is not None:
        if extent.length_mm is None:
            return f"{with_unit(extent.length_px, 'px')} long, no scale"
        return f"{_within(extent.length_mm, pct, 'mm')} long"
    if extent.longest_mm is None or extent.area_mm2 is None:
        return f"{with_unit(extent.longest_px, 'px')} across, no scale"
    area = extent.area_mm2
    in_cm2 = area >= 1000
    return (
        f"{_within(extent.longest_mm, pct, 'mm')} across, about "
        f"{with_unit(area / 100, 'cm²', 2) if in_cm2 else with_unit(area, 'mm²', 2)}"
    )


def doubt_pct(extent: Extent) -> float | None:
    """How far a mark's length may be off (95 %), in per cent of it.

    The scale's doubt and that of pointing at both ends, which are independent, in
    root-sum-square; nothing where the scale's own doubt is not known.
    """
    if extent.uncertainty_pct is None or not extent.longest_px:
        return None
    pointing = 100 * math.sqrt(2) * POINTING_PX / extent.longest_px
    return math.hypot(extent.uncertainty_pct, pointing)


def _within(value: float, pct: float | None, unit: str) -> str:
    """A length with its doubt, both to the same place."""
    if pct is None:
        return with_unit(value, unit)
    half = value * pct / 100
    places = 2 if half < 0.095 else 1 if half < 0.95 else 0
    return f"{value:.{places}f}{NBSP}±{NBSP}{max(half, 10**-places):.{places}f}{NBSP}{unit}"


def finding_size(finding: Finding) -> Size:
    """The largest of a finding's marks."""
    return largest_of(finding.marks)


def largest_of(marks: Iterable[Mark]) -> Size:
    """The largest of some marks; one with a size in mm comes before one in pixels."""
    extents = [extent_of(mark) for mark in marks]
    sized = [e for e in extents if e.longest_mm is not None]
    if sized:
        extent = max(sized, key=lambda e: e.longest_mm or 0)
        return Size(_longest(extent), doubt_pct(extent), extent_words(extent))
    if not extents:
        return Size(None, None, "not marked on a photo yet")
    extent = max(extents, key=lambda e: e.longest_px or 0)
    return Size(None, None, extent_words(extent))


def _longest(extent: Extent) -> float | None:
    """What a limit on size is held against: along a line, across everything else."""
    return extent.longest_mm if extent.length_mm is None else extent.length_mm
