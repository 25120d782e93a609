"""A photo without place, owner and camera; its picture untouched where the format allows it."""

import io
from contextlib import suppress

from defectlog.photos.decoding import decode
from defectlog.photos.exif import UPRIGHT
from defectlog.photos.refusals import DamagedPhotoError
from defectlog.photos.sniff import HEAD_BYTES, JPEG, PNG, sniff

# Kept of a JPEG's segments: size and density, colour profile, Adobe's colour mark (ITU T.81, B.1;
# ICC.1 annex B). Exif, XMP, comments and makers' own segments are left out.
_KEPT_APPS = {0xE0, 0xE2, 0xEE}
_COMMENT, _SCAN, _END = 0xFE, 0xDA, 0xD9
_ICC, _JFIF, _ADOBE = b"ICC_PROFILE\x00", b"JFIF\x00", b"Adobe"


def stripped(data: bytes, *, max_px: int) -> tuple[bytes, str]:
    """The photo without metadata, and the ending of its name.

    A JPEG keeps every bit of its picture, and which way up it is; what follows its end, such as a
    second picture or a film, goes. A PNG is written anew without loss; of other formats, and of a
    JPEG with odd bytes between its segments, an upright JPEG is made.

    Raises
    ------
    PhotoRefusedError
        If it cannot be read.
    """
    kind = sniff(data[:HEAD_BYTES])
    photo = decode(io.BytesIO(data), max_px=max_px)
    if kind is JPEG:
        with suppress(DamagedPhotoError):
            return _bare_jpeg(data, photo.metadata.orientation), "jpg"
    out = io.BytesIO()
    if kind is PNG:
        photo.image.save(out, "PNG")
        return out.getvalue(), "png"
    photo.image.save(out, "JPEG", quality=95, subsampling=0)
    return out.getvalue(), "jpg"


def _bare_jpeg(data: bytes, orientation: int) -> bytes:
    out = bytearray(data[:2])
    if orientation != UPRIGHT:
        out += _orientation_segment(orientation)
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise DamagedPhotoError(JPEG.name)
        marker = data[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker == _END:
            break
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        segment, at = data[at : at + 2 + length], at + 2 + length
        if _is_kept(marker, segment[4:]):
            out += segment
        if marker == _SCAN:
            start, at = at, _end_of_scan(data, at)
            out += data[start:at]
    return bytes(out) + b"\xff\xd9"


def _is_kept(marker: int, content: bytes) -> bool:
    if marker == _COMMENT:
        return False
    if 0xE0 <= marker <= 0xEF:
        return marker in _KEPT_APPS and content.startswith((_ICC, _JFIF, _ADOBE))
    return True


def _end_of_scan(data: bytes, at: int) -> int:
    """Where the coded picture data ends: at a marker that is neither stuffing nor a restart."""
    while (at := data.find(b"\xff", at)) >= 0 and at + 1 < len(data):
        after = data[at + 1]
        if after == 0 or 0xD0 <= after <= 0xD7:
            at += 2
        elif after == 0xFF:
            at += 1
        else:
            return at
    return len(data)


def _orientation_segment(orientation: int) -> bytes:
    """An Exif segment that says which way up the picture is, and nothing else (Exif 2.32, 4.5)."""
    entry = b"\x01\x12\x00\x03\x00\x00\x00\x01" + bytes((0, orientation, 0, 0))
    tiff = b"MM\x00*\x00\x00\x00\x08\x00\x01" + entry + b"\x00\x00\x00\x00"
    content = b"Exif\x00\x00" + tiff
    return b"\xff\xe1" + (len(content) + 2).to_bytes(2, "big") + content
