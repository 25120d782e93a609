"""How many pieces a file is in: told from their lengths alone, before anybody decodes it.

A JPEG or PNG is a row of pieces, each with its length. The decoder looks at every one of them, so a
file of a few megabytes cut into millions, or a JPEG that goes over its picture thousands of times,
would keep it busy for minutes without a pixel too many. Cameras write some twenty.
"""

import os
import re
from collections.abc import Iterator
from typing import BinaryIO

from PIL.JpegImagePlugin import MARKER

from defectlog.photos.refusals import TooLargeError
from defectlog.photos.sniff import JPEG, PNG, PhotoFormat

MOST_PIECES = 2_000
# A PNG's data comes in pieces as well; libpng makes them 8 KiB.
SMALLEST_PIECE_BYTES = 4_096
# A progressive JPEG comes in ten scans as libjpeg writes it (jcparam.c, jpeg_simple_progression).
MOST_SCANS = 100
# Between the pieces of a JPEG there may be filling, which is read byte by byte.
MOST_FILLING_BYTES = 65_536

# ITU-T T.81, table B.1.
_FRAMES = {0xC0 + n for n in range(16)} - {0xC4, 0xC8, 0xCC}
_ONCE_OVER = {0xC0, 0xC1, 0xC9}
_SCAN, _END = 0xDA, 0xD9
# Within a scan 0xFF is followed by 0 or the number of a restart, or it begins the next piece.
_NEXT_PIECE = re.compile(rb"\xff([^\x00\xff\xd0-\xd7])")


def refuse_shreds(source: BinaryIO, kind: PhotoFormat) -> None:
    """Refuse a file in more pieces than any camera writes; others are left to their decoder.

    Raises
    ------
    TooLargeError
        If there are too many pieces, scans or bytes of filling.
    """
    if kind is PNG:
        _count_chunks(source)
    elif kind is JPEG:
        _count_segments(source)
    source.seek(0)


def _count_chunks(source: BinaryIO) -> None:
    most = MOST_PIECES + source.seek(0, os.SEEK_END) // SMALLEST_PIECE_BYTES
    source.seek(8)
    pieces = 0
    while len(head := source.read(8)) == 8 and head[4:] != b"IEND":
        pieces += 1
        _refuse_above(most, pieces)
        source.seek(int.from_bytes(head[:4], "big") + 4, os.SEEK_CUR)


def _count_segments(source: BinaryIO) -> None:
    pieces = components = 0
    is_once_over = False
    for marker in _markers(source):
        pieces += 1
        _refuse_above(MOST_PIECES, pieces)
        if MARKER[0xFF00 | marker][2] is None:
            continue  # it has no length, or the decoder does not go by it
        length = int.from_bytes(source.read(2), "big")
        if marker == _SCAN:
            in_scan = source.read(1)
            if not is_once_over or (in_scan and in_scan[0] < components):
                _count_scans(source.read(), pieces)
            return
        body = source.read(max(0, length - 2))
        if marker in _FRAMES and len(body) > 5:
            is_once_over, components = marker in _ONCE_OVER, body[5]


def _markers(source: BinaryIO) -> Iterator[int]:
    """Each piece's marker, found as Pillow finds it; whoever asks steps over the piece itself."""
    source.seek(2)
    filling = 0
    byte = source.read(1)
    while byte:
        following = source.read(1) if byte == b"\xff" else b""
        if byte == b"\xff" and following not in (b"\xff", b"\x00"):
            if not following or 0xFF00 | following[0] not in MARKER:
                return  # the decoder gives up here
            yield following[0]
            byte = source.read(1)
            continue
        filling += 1
        _refuse_above(MOST_FILLING_BYTES, filling)
        byte = following if following == b"\xff" else source.read(1)


def _count_scans(data: bytes, pieces: int) -> None:
    scans, at = 1, 0
    while (found := _NEXT_PIECE.search(data, at)) and found[1][0] != _END:
        pieces += 1
        scans += found[1][0] == _SCAN
        _refuse_above(MOST_PIECES, pieces)
        _refuse_above(MOST_SCANS, scans)
        at = found.end() + int.from_bytes(data[found.end() : found.end() + 2], "big")


def _refuse_above(most: int, found: int) -> None:
    if found > most:
        raise TooLargeError.in_pieces()
