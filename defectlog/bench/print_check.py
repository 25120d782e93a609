"""Whether the printer prints true to size: two lengths measured once put every card right."""

import math
from dataclasses import replace
from datetime import datetime

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.errors import FieldError, FormError
from defectlog.measure.markers import PRINT_PCT
from defectlog.measure.scale import Scale
from defectlog.records import PhotoScale, PrintCheck
from defectlog.report.scale_card import CHECK_LINE_MM
from defectlog.units import MINUS, NBSP, with_unit

# How well a line of 120 mm is read on a steel rule, 95 % of the time.
READING_MM = 0.25
# "Fit to page" shrinks to about 94 %; further off, another line or another unit was read.
LEAST_MM, MOST_MM = 100.0, 140.0
# Printers feed paper and sweep across it by different means, but never as differently as this.
MOST_APART_PCT = 3.0


def save_print_check(
    session: Session, across_mm: float, down_mm: float, at: datetime
) -> PrintCheck:
    """Keep what the two check lines of the printed card read; it holds for scales from now on.

    Raises
    ------
    FormError
        As for ``check_of``.
    """
    check = check_of(across_mm, down_mm)
    check.at = at
    session.add(check)
    session.flush()
    return check


def check_of(across_mm: float, down_mm: float) -> PrintCheck:
    """What the two check lines of the printed card read, kept nowhere.

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
    return PrintCheck(across_mm=across_mm, down_mm=down_mm)


def forget_print_check(session: Session, at: datetime) -> None:
    """Take the check back, as for another printer; scales found before keep what they had."""
    if print_check(session) is not None:
        session.add(PrintCheck(across_mm=None, down_mm=None, at=at))
        session.flush()


def print_check(session: Session) -> PrintCheck | None:
    """The check in force, if there is one."""
    last = session.scalars(select(PrintCheck).order_by(PrintCheck.id.desc()).limit(1)).first()
    return last if last is not None and last.across_mm is not None else None


def print_pct(check: PrintCheck) -> float:
    """How much too large the card is printed, in per cent: the mean of both ways."""
    across, down = _factors(check)
    return 100 * (math.sqrt(across * down) - 1)


def print_pct_words(pct: float) -> str:
    """``+0.4 %``, ``−1.2 %`` or ``±0.0 %``."""
    sign = "±" if abs(pct) < 0.05 else "+" if pct > 0 else MINUS
    return f"{sign}{abs(pct):.1f}{NBSP}%"


def check_words(check: PrintCheck) -> str:
    """``The card prints 0.4 % too large (120.5 mm across, 120.5 mm down).``"""
    pct = print_pct(check)
    how = (
        "true to size"
        if abs(pct) < 0.05
        else f"{abs(pct):.1f}{NBSP}% too {'large' if pct > 0 else 'small'}"
    )
    lengths = f"{with_unit(check.across_mm or 0, 'mm', 5)} across, "
    return f"The card prints {how} ({lengths}{with_unit(check.down_mm or 0, 'mm', 5)} down)."


def put_right(scale: Scale, check: PrintCheck) -> Scale:
    """A scale found from a printed card, in true millimetres.

    Across and down are put right each by its own line, in the card's own directions. The
    doubt of a print that is only taken to be true gives way to that of reading the lines.
    """
    if scale.source != "card" or scale.px_per_mm is None:
        return scale
    across, down = _factors(check)
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


def scale_row(session: Session, scale: Scale, at: datetime) -> PhotoScale:
    """A scale as it is kept with a photo, put right by the print check where that applies."""
    check = print_check(session) if scale.source == "card" else None
    if check is not None:
        scale = put_right(scale, check)
    return PhotoScale(
        source=scale.source,
        px_per_mm=scale.px_per_mm,
        uncertainty_pct=scale.uncertainty_pct,
        tilt_deg=scale.tilt_deg,
        homography=[list(row) for row in scale.homography] if scale.homography else None,
        card_outlines=[[list(point) for point in outline] for outline in scale.card_outlines],
        warnings=list(scale.warnings),
        print_pct=None if check is None else print_pct(check),
        at=at,
    )


def _factors(check: PrintCheck) -> tuple[float, float]:
    """Printed over drawn length, across and down."""
    if check.across_mm is None or check.down_mm is None:
        raise ValueError("this row takes a check back, there are no lengths in it")
    return check.across_mm / CHECK_LINE_MM, check.down_mm / CHECK_LINE_MM
