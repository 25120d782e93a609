"""A program of its own that reads one photo: bytes in on one side, a line and pixels out.

    python -m defectlog.photos.apart MAX_PX SECONDS < photo.heic

The line is JSON: the size and what the camera's clock said, followed by the pixels, red, green and
blue; or why the photo was refused. It may run out of memory, time or luck: nobody else does.
"""

import io
import json
import sys
from typing import Any

import pi_heif

from defectlog.photos.refusals import (
    DamagedPhotoError,
    ForeignFileError,
    PhotoRefusedError,
    TooLargeError,
)
from defectlog.photos.sniff import HEAD_BYTES, sniff
from defectlog.photos.upright import decode_here

_MOST_BYTES = 4 * 2**30


def main() -> None:
    """Read a photo from standard input, write what it shows to standard output."""
    _hold_back(int(sys.argv[2]))
    # Hidden extra pictures of a HEIC file (depth maps, previews) are never read.
    pi_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)
    data = sys.stdin.buffer.read()
    try:
        photo = decode_here(io.BytesIO(data), sniff(data[:HEAD_BYTES]), max_px=int(sys.argv[1]))
    except PhotoRefusedError as error:
        _tell(_refused(error))
        return
    except MemoryError:
        _tell({"refused": DamagedPhotoError.reason})
        return
    taken_at = photo.metadata.taken_at
    _tell(
        {
            "width_px": photo.width_px,
            "height_px": photo.height_px,
            "orientation": photo.metadata.orientation,
            "taken_text": photo.metadata.taken_text,
            "taken_at": taken_at.isoformat() if taken_at else None,
        }
    )
    sys.stdout.buffer.write(photo.image.tobytes())


def _refused(error: PhotoRefusedError) -> dict[str, Any]:
    told: dict[str, Any] = {"refused": error.reason}
    if isinstance(error, ForeignFileError):
        told["found"] = error.found
    if isinstance(error, TooLargeError):
        told |= {"by": error.by, "of": error.found}
    return told


def _tell(told: dict[str, Any]) -> None:
    sys.stdout.buffer.write(json.dumps(told).encode() + b"\n")


def _hold_back(seconds: int) -> None:
    """Limit this process's memory and processor time, where the system can."""
    try:
        import resource
    except ImportError:  # Windows
        return
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "linux":
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))


if __name__ == "__main__":
    main()
