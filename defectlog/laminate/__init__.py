"""Arithmetic of laminates, resin and vacuum bags."""

from defectlog.laminate.earlier import Expected, expected_next
from defectlog.laminate.fibre import CLOSEST_PACKING, fibre_volume_fraction
from defectlog.laminate.inputs import ImpossibleFigureError
from defectlog.laminate.peel import PeelLoad, peel_energy, peel_load
from defectlog.laminate.resin import ResinBudget, overage, resin_budget
from defectlog.laminate.vacuum import LeakRate, leak_rate
from defectlog.laminate.voidage import VoidContent, void_content_by_density

__all__ = [
    "CLOSEST_PACKING",
    "Expected",
    "ImpossibleFigureError",
    "LeakRate",
    "PeelLoad",
    "ResinBudget",
    "VoidContent",
    "expected_next",
    "fibre_volume_fraction",
    "leak_rate",
    "overage",
    "peel_energy",
    "peel_load",
    "resin_budget",
    "void_content_by_density",
]
