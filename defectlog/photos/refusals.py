"""Why a file is not taken as a photo, and what to do instead."""

from typing import ClassVar

from defectlog.errors import DefectlogError

ACCEPTED_WORDS = "JPEG, PNG, WebP, TIFF or HEIC"
# Nearly twice the width of a sensor of 200 megapixels (16 320 px).
MOST_SIDE_PX = 30_000
# Profiles of cameras and screens are a few kilobytes, of presses some hundreds.
MOST_PROFILE_BYTES = 2**20


class PhotoRefusedError(DefectlogError):
    """A file that was offered as a photo cannot be taken. ``reason`` is one word for a machine."""

    reason: ClassVar[str] = "refused"


class EmptyFileError(PhotoRefusedError):
    """The file holds no bytes at all."""

    reason = "empty"

    def __init__(self) -> None:
        super().__init__(
            "The file is empty", "choose it again; if it stays empty, take the photo again"
        )


class ForeignFileError(PhotoRefusedError):
    """The bytes are not one of the picture formats we take. ``found`` says what they are."""

    reason = "foreign"

    def __init__(self, found: str) -> None:
        self.found = found
        super().__init__(f"This is {found}, not a photo", f"send it as {ACCEPTED_WORDS}")


class TooLargeError(PhotoRefusedError):
    """The photo is above one of the limits of what is taken in; ``by`` is a word for which.

    ``found`` is what it has of that, where that is known.
    """

    reason = "too-large"
    by: str = "bytes"
    found: int | None = None

    @classmethod
    def in_bytes(cls, limit: int) -> "TooLargeError":
        return cls(
            f"The file is larger than the limit of {limit / 2**20:.0f} MiB",
            "set the camera to a smaller picture and take it again",
        )

    @classmethod
    def in_pixels(cls, pixels: int | None, limit: int) -> "TooLargeError":
        found = "too many" if pixels is None else f"{pixels / 1e6:.0f}"
        error = cls(
            f"The photo has {found} megapixels, the limit is {limit / 1e6:.0f}",
            "set the camera to 12 megapixels and take it again",
        )
        error.by, error.found = "pixels", pixels
        return error

    @classmethod
    def in_side(cls, found: int) -> "TooLargeError":
        error = cls(
            f"The photo is {found} px long on one side, the limit is {MOST_SIDE_PX}",
            "cut it into shorter pieces, or photograph the part in several pictures",
        )
        error.by, error.found = "side", found
        return error

    @classmethod
    def in_profile(cls, found: int) -> "TooLargeError":
        error = cls(
            f"The photo has a colour profile of {found / 2**20:.1f} MiB, "
            f"the limit is {MOST_PROFILE_BYTES / 2**20:.0f}",
            "save it anew with the colours of the screen (sRGB)",
        )
        error.by, error.found = "profile", found
        return error

    @classmethod
    def in_pieces(cls) -> "TooLargeError":
        error = cls(
            "The file is in far more pieces than any camera writes",
            "take the photo again, or save it anew as JPEG",
        )
        error.by = "pieces"
        return error


class DamagedPhotoError(PhotoRefusedError):
    """The file begins as a picture and cannot be read to its end."""

    reason = "damaged"

    def __init__(self, format_name: str) -> None:
        self.format_name = format_name
        super().__init__(
            f"This {format_name} is damaged or cut short",
            "send it again; if it fails again, take the photo again",
        )


class SlowPhotoError(PhotoRefusedError):
    """The file keeps its decoder busy for longer than any sound photo does."""

    reason = "slow"

    def __init__(self, format_name: str, seconds: float) -> None:
        super().__init__(
            f"This {format_name} could not be read within {seconds:.0f} s",
            "send it again when the computer is less busy, or take it as a JPEG",
        )


class AlteredError(PhotoRefusedError):
    """The bytes that came are not those that were sent."""

    reason = "altered"
    field = "sha256"  # for the script that sent them

    def __init__(self) -> None:
        super().__init__(
            "The photo did not arrive as it was sent, something on the way changed it",
            "send it once more; if it happens again, look at the Wi-Fi",
        )


class StorageFaultError(DefectlogError):
    """The folder of the photos cannot be written or read. Nothing was saved."""


class MissingOriginalError(DefectlogError):
    """A photo is in the records and its file is not in the folder."""

    def __init__(self, sha256: str) -> None:
        self.sha256 = sha256
        super().__init__(
            f"The file of this photo ({sha256[:12]}…) is missing",
            "put it back from a backup; the record of the photo is kept",
        )
