"""What the photo room needs to let a threshold be moved and the counted area follow."""

import json
import struct
from collections.abc import Sequence
from dataclasses import asdict

from defectlog.bench.measuring import Point, asked_of
from defectlog.measure.hand_set import LEAST, MOST, NOT_INSPECTED, STEPS
from defectlog.measure.live_picture import LivePicture, live_picture
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Photo

# A phone's canvas is drawn anew for every move of the finger: 2 million pixels it can keep up
# with. What a desk can is asked for, up to this.
LEAST_PX, MOST_PX = 500_000, 8_000_000


def live_photo(
    photo: Photo,
    store: PhotoStore,
    *,
    region: Sequence[Point] | None,
    look: str,
    smallest_mm: float | None,
    leave_out: Sequence[Sequence[Point]],
    most_px: int,
) -> LivePicture:
    """The evened surface to try thresholds on. Reads the file and takes its time: hold no lock."""
    asked = asked_of(photo, region=region, look=look, smallest_mm=smallest_mm, leave_out=leave_out)
    return live_picture(
        store.decoded(photo.sha256).pixels(),
        **asked,
        most_px=min(max(most_px, LEAST_PX), MOST_PX),
    )


def packed(picture: LivePicture) -> bytes:
    """One message: how long the words are (4 bytes, little-endian), JSON, then a byte a pixel."""
    about = asdict(picture)
    levels = about.pop("levels")
    about |= {
        "width_px": levels.shape[1],
        "height_px": levels.shape[0],
        "steps": STEPS,
        "not_inspected": NOT_INSPECTED,
        "least": LEAST,
        "most": MOST,
    }
    words = json.dumps(about).encode()
    return struct.pack("<I", len(words)) + words + levels.tobytes()
