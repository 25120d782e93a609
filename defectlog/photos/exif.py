"""The two things we read from a photo's metadata: which way up it is, and when it was taken.

Nothing else is read, so that place, owner and camera can appear nowhere.
"""

import re
from dataclasses import dataclass
from datetime import datetime

from PIL import Image

UPRIGHT = 1

# Exif 2.32, tag numbers.
_ORIENTATION = 0x0112
_EXIF_IFD = 0x8769
_DATE_TIME = 0x0132
_DATE_TIME_ORIGINAL = 0x9003

_DATE_FORM = re.compile(r"\d{4}:\d{2}:\d{2} \d{2}:\d{2}:\d{2}")
# No phone had a camera before; an earlier year is a clock that was never set.
_FIRST_SANE_YEAR = 1995


@dataclass(frozen=True, slots=True)
class PhotoMetadata:
    """Orientation 1–8 as in Exif, and the camera clock's time as written and as understood.

    ``taken_at`` has no time zone: it is what the camera's clock showed. It is None if the text is
    missing or is not a date.
    """

    orientation: int = UPRIGHT
    taken_text: str | None = None
    taken_at: datetime | None = None


def read_metadata(image: Image.Image) -> PhotoMetadata:
    """Read the metadata of a picture as opened, before it is turned; broken metadata is none."""
    try:
        exif = image.getexif()
        orientation = exif.get(_ORIENTATION, UPRIGHT)
        text = exif.get_ifd(_EXIF_IFD).get(_DATE_TIME_ORIGINAL) or exif.get(_DATE_TIME)
    # The reader raises whatever its parsing ran into, and a photo must not be lost over its label.
    except Exception:
        return PhotoMetadata()
    if not isinstance(orientation, int) or not 1 <= orientation <= 8:
        orientation = UPRIGHT
    taken_text = _plain(text)
    return PhotoMetadata(orientation, taken_text, _as_date(taken_text))


def _plain(text: object) -> str | None:
    if isinstance(text, bytes):
        text = text.decode("latin-1")
    if not isinstance(text, str):
        return None
    return "".join(letter for letter in text if letter.isprintable()).strip()[:40] or None


def _as_date(text: str | None) -> datetime | None:
    if text is None or not _DATE_FORM.fullmatch(text[:19]):
        return None
    try:
        taken = datetime.strptime(text[:19], "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    return taken if taken.year >= _FIRST_SANE_YEAR else None
