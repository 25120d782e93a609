"""How true to size the workshop's printer prints, by two lines measured on the printed card."""

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from defectlog.records.base import Record


class PrintCheck(Record):
    """One check of the printer. Rows are only added; one without lengths takes the last back."""

    __tablename__ = "print_check"
    __table_args__ = (
        CheckConstraint("(across_mm IS NULL) = (down_mm IS NULL)", "both_or_neither"),
        CheckConstraint("across_mm IS NULL OR (across_mm > 0 AND down_mm > 0)", "is_positive"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    # What the two check lines of the card read on a steel rule.
    across_mm: Mapped[float | None]
    down_mm: Mapped[float | None]
    at: Mapped[datetime]
