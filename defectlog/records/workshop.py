"""The workshop itself, and the marks that a form has been saved once."""

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from defectlog.records.base import Record


class Workshop(Record):
    """One row: what the workshop is called, and the mark by which other shops know its files."""

    __tablename__ = "workshop"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), default="Workshop")
    # Marks the files this shop gives away; made with the first one.
    uid: Mapped[str | None] = mapped_column(String(32))


class SavedForm(Record):
    """A form that was saved, by the token it carried: a second press leads to the same place."""

    __tablename__ = "saved_form"

    token: Mapped[str] = mapped_column(String(64), primary_key=True)
    target: Mapped[str] = mapped_column(String(300))
    at: Mapped[datetime]
