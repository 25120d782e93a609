"""How large a photo may be: the limits of this installation, and what they cost."""

from collections.abc import Mapping
from dataclasses import dataclass

from defectlog.errors import FieldError
from defectlog.photos.decoding import DEFAULT_MAX_PX
from defectlog.photos.originals import DEFAULT_MAX_BYTES

MEGAPIXELS, MIB = "DEFECTLOG_MEGAPIXELS", "DEFECTLOG_PHOTO_MIB"
MOST_MEGAPIXELS, MOST_MIB = 200, 256


@dataclass(frozen=True, slots=True)
class PhotoLimits:
    """The most bytes and the most pixels of one photo.

    With a photo taken in and measured the whole app holds 0.7 GB of memory at 12 megapixels, 1.7 GB
    at 64, 3.5 GB at 200 (``python -m tests.benchmarks.large_photos``).
    """

    max_bytes: int = DEFAULT_MAX_BYTES
    max_px: int = DEFAULT_MAX_PX

    @classmethod
    def of(cls, settings: Mapping[str, str]) -> "PhotoLimits":
        """The limits that the environment sets, or the usual ones.

        Raises
        ------
        FieldError
            If a setting is no whole number, or larger than can be taken.
        """
        return cls(
            _whole(settings, MIB, DEFAULT_MAX_BYTES // 2**20, MOST_MIB) * 2**20,
            _whole(settings, MEGAPIXELS, DEFAULT_MAX_PX // 1_000_000, MOST_MEGAPIXELS) * 1_000_000,
        )


def _whole(settings: Mapping[str, str], name: str, usual: int, most: int) -> int:
    said = settings.get(name, "").strip() or str(usual)
    if not (said.isascii() and said.isdigit() and 1 <= int(said) <= most):
        raise FieldError(
            name,
            f"{name} is set to “{said[:20]}”",
            f"set it to a whole number from 1 to {most}, or leave it out for {usual}",
        )
    return int(said)
