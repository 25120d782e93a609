"""Files cut into millions of pieces are refused by their lengths; what cameras write passes."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from defectlog.photos.decoding import decode
from defectlog.photos.pieces import MOST_FILLING_BYTES, MOST_PIECES, MOST_SCANS
from defectlog.photos.refusals import MOST_PROFILE_BYTES, MOST_SIDE_PX, TooLargeError


def as_file(form: str, size: tuple[int, int] = (64, 48), **options: object) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, (120, 90, 60)).save(file, form, **options)
    return file.getvalue()


def chunk(name: bytes, body: bytes = b"") -> bytes:
    checked = struct.pack(">I", zlib.crc32(name + body))
    return struct.pack(">I", len(body)) + name + body + checked


def png_with(chunks: bytes) -> bytes:
    """Pieces between the header of a PNG, which ends at byte 33, and its data."""
    whole = as_file("PNG")
    return whole[:33] + chunks + whole[33:]


def jpeg_with(segments: bytes) -> bytes:
    whole = as_file("JPEG")
    return whole[:2] + segments + whole[2:]


def jpeg_of_scans(number: int) -> bytes:
    """A progressive JPEG of ten scans, its last one, which refines brightness, over and over."""
    whole = as_file("JPEG", progressive=True)
    last = whole.rindex(b"\xff\xda")
    assert whole.count(b"\xff\xda") == 10
    return whole[:-2] + whole[last:-2] * (number - 10) + whole[-2:]


SHREDS = {
    "a PNG of empty chunks": png_with(chunk(b"abCd") * (MOST_PIECES + 99)),
    "a PNG of texts": png_with(chunk(b"tEXt", b"a\0b") * (MOST_PIECES + 99)),
    "a JPEG of empty segments": jpeg_with(b"\xff\xe5\0\2" * (MOST_PIECES + 1)),
    "a JPEG of comments": jpeg_with(b"\xff\xfe\0\2" * (MOST_PIECES + 1)),
    "a JPEG full of filling": jpeg_with(b"\xff" * (MOST_FILLING_BYTES + 2)),
    "a JPEG with noughts between": jpeg_with(b"\xff\xe5\0\2" + bytes(MOST_FILLING_BYTES + 2)),
    "a JPEG of markers without length": jpeg_with(b"\xff\xd0" * (MOST_PIECES + 1)),
    "a JPEG going over itself for ever": jpeg_of_scans(MOST_SCANS + 1),
}


@pytest.mark.parametrize("name", SHREDS)
def test_a_file_in_more_pieces_than_a_camera_writes_is_refused(name):
    with pytest.raises(TooLargeError, match="pieces"):
        decode(io.BytesIO(SHREDS[name]))


TAKEN = {
    "a JPEG with all the comments it may have": jpeg_with(b"\xff\xfe\0\2" * (MOST_PIECES - 20)),
    "a JPEG with some filling": jpeg_with(b"\xff" * 1000),
    "a JPEG with all the scans it may have": jpeg_of_scans(MOST_SCANS),
    "a progressive JPEG": as_file("JPEG", progressive=True),
    "a PNG with some chunks": png_with(chunk(b"abCd") * 100),
}


@pytest.mark.parametrize("name", TAKEN)
def test_a_file_of_many_pieces_within_reason_is_taken(name):
    assert decode(io.BytesIO(TAKEN[name])).width_px == 64


def test_a_png_written_in_pieces_of_8_kib_is_taken_however_large():
    noise = np.random.default_rng(3).integers(0, 256, (3000, 2000, 3), dtype=np.uint8)
    rows = np.concatenate([np.zeros((3000, 1), np.uint8), noise.reshape(3000, 6000)], axis=1)
    data = zlib.compress(rows.tobytes(), 0)
    header = struct.pack(">IIBBBBB", 2000, 3000, 8, 2, 0, 0, 0)
    pieces = [chunk(b"IDAT", data[at : at + 8192]) for at in range(0, len(data), 8192)]
    # 3000 rows of 6001 bytes are 18 003 000 bytes, and those 2198 such pieces.
    assert len(pieces) > MOST_PIECES

    whole = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + b"".join(pieces) + chunk(b"IEND")

    assert decode(io.BytesIO(whole)).height_px == 3000


@pytest.mark.parametrize("form", ["PNG", "TIFF"])
def test_a_side_above_the_limit_is_refused_and_one_at_it_is_not(form):
    assert decode(io.BytesIO(as_file(form, (MOST_SIDE_PX, 1)))).width_px == MOST_SIDE_PX
    with pytest.raises(TooLargeError, match=rf"{MOST_SIDE_PX + 1} px long.*{MOST_SIDE_PX}"):
        decode(io.BytesIO(as_file(form, (1, MOST_SIDE_PX + 1))))


@pytest.mark.parametrize("form", ["JPEG", "TIFF"])
def test_a_colour_profile_of_2_mb_is_refused(form):
    with pytest.raises(TooLargeError, match=r"profile of 2\.0 MiB, the limit is 1"):
        decode(io.BytesIO(as_file(form, icc_profile=bytes(2 * MOST_PROFILE_BYTES))))
