"""The printed card put right by its two check lines, measured once with a steel rule."""

import math
from dataclasses import dataclass, replace

import numpy as np

from defectlog.errors import FieldError, FormError
from defectlog.measure.lengths.card import CHECK_LINE_MM
from defectlog.measure.lengths.markers import PRINT_PCT
from defectlog.measure.lengths.scale import Scale
from defectlog.units import with_unit

# How well a line of 120 mm is read on a steel rule, 95 % of the time.
READING_MM = 0.25
# "Fit to page" shrinks to about 94 %; further off, another line or another unit was read.
LEAST_MM, MOST_MM = 100.0, 140.0
# Printers feed paper and sweep across it by different means, but never as differently as this.
MOST_APART_PCT = 3.0


@dataclass(frozen=True, slots=True)
class CheckLines:
    """What the check lines of a printed card measure, across the page and down it."""

    across_mm: float
    down_mm: float

    @property
    def factors(self) -> tuple[float, float]:
        """Printed over drawn length, across and down."""
        return self.across_mm / CHECK_LINE_MM, self.down_mm / CHECK_LINE_MM

    @property
    def too_large_pct(self) -> float:
        """How much too large the card is printed: the mean of both ways."""
        across, down = self.factors
        return 100 * (math.sqrt(across * down) - 1)


def read_lines(across_mm: float, down_mm: float) -> CheckLines:
    """Check lines as they were measured.

    Raises
    ------
    FormError
        If a length is none that a line drawn 120 mm long can have.
    """
    faults = [
        FieldError(
            name,
            f"A check line of {with_unit(value, 'mm', 4)} is out of range",
            f"measure the line that is drawn {CHECK_LINE_MM:g} mm long, in millimetres, and "
            f"enter {LEAST_MM:g} to {MOST_MM:g}",
        )
        for name, value in (("across_mm", across_mm), ("down_mm", down_mm))
        if not LEAST_MM <= value <= MOST_MM
    ]
    if not faults and 100 * abs(math.log(across_mm / down_mm)) > MOST_APART_PCT:
        faults = [
            FieldError(
                "down_mm",
                "The two lines differ by more than a printer can make them",
                f"measure both again; both are drawn {CHECK_LINE_MM:g} mm long",
            )
        ]
    if faults:
        raise FormError(faults)
    return CheckLines(across_mm, down_mm)


def put_right(scale: Scale, lines: CheckLines) -> Scale:
    """A scale found from a printed card, in true millimetres.

    Across and down are put right each by its own line, in the card's own directions. The
    doubt of a print that is only taken to be true gives way to that of reading the lines.
    """
    if scale.source != "card" or scale.px_per_mm is None:
        return scale
    across, down = lines.factors
    homography = None
    if scale.homography is not None:
        stretched = np.diag([across, down, 1.0]) @ np.array(scale.homography)
        homography = tuple(tuple(float(value) for value in row) for row in stretched)
    doubt = scale.uncertainty_pct
    if doubt is not None:
        reading_pct = 100 * READING_MM / CHECK_LINE_MM
        doubt = math.hypot(math.sqrt(max(0.0, doubt**2 - PRINT_PCT**2)), reading_pct)
    return replace(
        scale,
        px_per_mm=scale.px_per_mm / math.sqrt(across * down),
        uncertainty_pct=doubt,
        homography=homography,  # type: ignore[arg-type]
    )
