"""What a file is, from its first bytes: neither its name nor what the sender calls it counts."""

import re
from dataclasses import dataclass

from defectlog.photos.refusals import EmptyFileError, ForeignFileError

HEAD_BYTES = 4096


@dataclass(frozen=True, slots=True)
class PhotoFormat:
    """A picture format that we take. ``reader`` is Pillow's name of the one decoder to try."""

    name: str
    media_type: str
    extension: str
    reader: str


JPEG = PhotoFormat("JPEG", "image/jpeg", "jpg", "JPEG")
PNG = PhotoFormat("PNG", "image/png", "png", "PNG")
WEBP = PhotoFormat("WebP", "image/webp", "webp", "WEBP")
TIFF = PhotoFormat("TIFF", "image/tiff", "tif", "TIFF")
HEIC = PhotoFormat("HEIC", "image/heic", "heic", "HEIF")
FORMATS = (JPEG, PNG, WEBP, TIFF, HEIC)

# ISO/IEC 23008-12: brands of still pictures and picture sequences coded with HEVC.
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
_AVIF_BRANDS = frozenset({b"avif", b"avis"})

_FOREIGN: tuple[tuple[bytes, str], ...] = (
    (b"%PDF-", "a PDF document"),
    (b"%!PS", "a PostScript drawing"),
    (b"\xc5\xd0\xd3\xc6", "a PostScript drawing"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"8BPS", "a layered picture file"),
    (b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"),
    (b"\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"PK\x03\x04", "a ZIP archive or office document"),
    (b"PK\x05\x06", "a ZIP archive"),
    (b"7z\xbc\xaf\x27\x1c", "a compressed archive"),
    (b"Rar!\x1a\x07", "a compressed archive"),
    (b"\x1f\x8b", "a compressed file"),
    (b"\x1a\x45\xdf\xa3", "a video"),
    (b"\x00\x00\x01\xba", "a video"),
    (b"OggS", "a sound or video file"),
    (b"ID3", "a sound file"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"BM", "a BMP picture"),
)
_RIFF = {b"AVI ": "a video", b"WAVE": "a sound file"}
_UNKNOWN = "a file of a kind we do not know"


def sniff(head: bytes) -> PhotoFormat:
    """Tell the picture format from the first bytes of a file (``HEAD_BYTES`` are plenty).

    Raises
    ------
    EmptyFileError
        If there are no bytes.
    ForeignFileError
        If it is anything else; the error names it where we know it.
    """
    if not head:
        raise EmptyFileError
    if head.startswith(b"\xff\xd8\xff"):
        return JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return WEBP
    if head.startswith((b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")):
        if head[8:10] == b"CR":
            raise ForeignFileError("a camera raw file")
        return TIFF
    if head[4:8] == b"ftyp":
        return _by_brand(head)
    raise ForeignFileError(_foreign_name(head))


def _by_brand(head: bytes) -> PhotoFormat:
    """HEIC and videos share a container; the list of brands at its start tells them apart."""
    size = min(int.from_bytes(head[:4], "big"), len(head))
    major = head[8:12]
    brands = {major} | {head[at : at + 4] for at in range(16, size - 3, 4)}
    if brands & _AVIF_BRANDS and not brands & {b"heic", b"heix"}:
        raise ForeignFileError("an AVIF picture")
    if major in _HEIC_BRANDS:
        return HEIC
    raise ForeignFileError("a camera raw file" if major == b"crx " else "a video")


def _foreign_name(head: bytes) -> str:
    for start, name in _FOREIGN:
        if head.startswith(start):
            return name
    if head.startswith(b"RIFF"):
        return _RIFF.get(head[8:12], _UNKNOWN)
    return _text_name(head) or _UNKNOWN


def _text_name(head: bytes) -> str | None:
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    start = text[:1024].lower()
    if re.search(rb"<svg[\s>]", start):
        return "an SVG drawing"
    if start.startswith((b"<!doctype html", b"<html", b"<head", b"<script", b"<body", b"<!--")):
        return "a web page"
    if start.startswith(b"<?xml"):
        return "an XML document"
    is_text = bool(text) and not re.search(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]", head)
    return "text" if is_text and _is_utf8(head) else None


def _is_utf8(head: bytes) -> bool:
    # The head may end inside a letter of up to four bytes.
    for cut in range(4):
        try:
            head[: len(head) - cut].decode("utf-8")
        except UnicodeDecodeError:
            continue
        return True
    return False
