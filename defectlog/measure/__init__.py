"""Arrays in, sizes and fractions out: the scale of a photo, its voids and their doubt."""

from defectlog.measure.figures.result import Rejected, Void, VoidMeasurement
from defectlog.measure.lengths.card import CARD_LAYOUTS, ID1_MM, CardLayout, marker_cells
from defectlog.measure.lengths.extent import Extent, mark_extent
from defectlog.measure.lengths.markers import find_card, find_markers
from defectlog.measure.lengths.scale import NO_SCALE, Scale, given_scale, scale_from_points
from defectlog.measure.voids import measure_voids

__all__ = [
    "CARD_LAYOUTS",
    "ID1_MM",
    "NO_SCALE",
    "CardLayout",
    "Extent",
    "Rejected",
    "Scale",
    "Void",
    "VoidMeasurement",
    "find_card",
    "find_markers",
    "given_scale",
    "mark_extent",
    "marker_cells",
    "measure_voids",
    "scale_from_points",
]
