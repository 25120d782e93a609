"""Figures that no laminate can have, refused with what to look at."""

import math

from defectlog.errors import DefectlogError
from defectlog.units import with_unit


class ImpossibleFigureError(DefectlogError):
    """A figure given, or one that follows from those given, cannot be."""


def above_zero(value: float, unit: str, what: str) -> float:
    """The value itself if it is finite and above 0.

    Raises
    ------
    ImpossibleFigureError
        Otherwise, with ``what`` naming the figure.
    """
    if not (math.isfinite(value) and value > 0):
        raise ImpossibleFigureError(f"{what} is {with_unit(value, unit)}", "give it above 0")
    return float(value)
