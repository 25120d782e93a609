"""Whether the printer prints true to size: two lengths measured once put every card right."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.measure.lengths.printed import CheckLines, put_right, read_lines
from defectlog.measure.lengths.scale import Scale
from defectlog.records import PhotoScale, PrintCheck
from defectlog.units import MINUS, NBSP, with_unit


def save_print_check(
    session: Session, across_mm: float, down_mm: float, at: datetime
) -> PrintCheck:
    """Keep what the two check lines of the printed card read; it holds for scales from now on.

    Raises
    ------
    FormError
        As for ``read_lines``.
    """
    lines = read_lines(across_mm, down_mm)
    check = PrintCheck(across_mm=lines.across_mm, down_mm=lines.down_mm, at=at)
    session.add(check)
    session.flush()
    return check


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
    return _lines(check).too_large_pct


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


def scale_row(session: Session, scale: Scale, at: datetime) -> PhotoScale:
    """A scale as it is kept with a photo, put right by the print check where that applies."""
    check = print_check(session) if scale.source == "card" else None
    if check is not None:
        scale = put_right(scale, _lines(check))
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


def _lines(check: PrintCheck) -> CheckLines:
    if check.across_mm is None or check.down_mm is None:
        raise ValueError("this row takes a check back, there are no lengths in it")
    return CheckLines(check.across_mm, check.down_mm)
