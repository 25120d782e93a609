"""Arrays in, sizes and fractions out: the scale of a photo, its voids and their doubt."""

from defectlog.measure.card import CARD_LAYOUTS, ID1_MM, CardLayout, marker_cells
from defectlog.measure.extent import Extent, mark_extent
from defectlog.measure.markers import find_card, find_markers
from defectlog.measure.result import Rejected, Void, VoidMeasurement
from defectlog.measure.scale import NO_SCALE, Scale, given_scale, scale_from_points
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
