"""What a file is, told from its first bytes."""

import pytest

from defectlog.photos.refusals import EmptyFileError, ForeignFileError
from defectlog.photos.sniff import HEIC, JPEG, PNG, TIFF, WEBP, sniff

# Signatures as the formats' own specifications print them: ITU-T T.81 B.1.1.3 (SOI and a marker),
# ISO/IEC 15948 5.2, RFC 9649 2.4, TIFF 6.0 p. 13, ISO/IEC 14496-12 4.3 with 23008-12 brands.
PHOTOS = [
    (bytes.fromhex("ffd8ffe000104a464946"), JPEG),
    (bytes.fromhex("ffd8ffe1"), JPEG),
    (bytes.fromhex("89504e470d0a1a0a0000000d49484452"), PNG),
    (b"RIFF\x24\x00\x00\x00WEBPVP8 ", WEBP),
    (b"II*\x00\x08\x00\x00\x00\x0b\x00", TIFF),
    (b"MM\x00*\x00\x00\x00\x08", TIFF),
    (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", HEIC),
    (b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic", HEIC),
]


@pytest.mark.parametrize(("head", "expected"), PHOTOS)
def test_a_photo_is_known_by_its_signature(head, expected):
    assert sniff(head) is expected


FOREIGN = [
    (b"%PDF-1.7\n%\xe2\xe3", "PDF"),
    (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">', "SVG"),
    (b"\xef\xbb\xbf  <svg viewBox='0 0 1 1'><script>alert(1)</script></svg>", "SVG"),
    (b"<!DOCTYPE html><html><body>\xff\xd8\xff", "web page"),
    (b"<html>", "web page"),
    (b"\x00\x00\x00\x20ftypisom\x00\x00\x02\x00isomiso2avc1mp41", "video"),
    (b"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", "video"),
    (b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf", "AVIF"),
    (b"\x00\x00\x00\x1cftypmif1\x00\x00\x00\x00mif1avifmiaf", "AVIF"),
    (b"GIF89a\x01\x00\x01\x00", "GIF"),
    (b"PK\x03\x04\x14\x00", "ZIP"),
    (b"BM6\x00\x0c\x00", "BMP"),
    (b"MZ\x90\x00", "program"),
    (b"%!PS-Adobe-3.0 EPSF-3.0", "PostScript"),
    (b"RIFF\x00\x00\x00\x00WAVEfmt ", "sound"),
    ("Heron Slip: hatch lid, 3 pores près du bord\n".encode(), "text"),
    (b"II*\x00\x10\x00\x00\x00CR\x02\x00", "raw"),
    (bytes(64), "do not know"),
    (bytes.fromhex("8f03c1e2aa5500fe"), "do not know"),
]


@pytest.mark.parametrize(("head", "named"), FOREIGN)
def test_anything_else_is_refused_by_its_own_name(head, named):
    with pytest.raises(ForeignFileError) as refused:
        sniff(head)

    assert named in refused.value.what
    assert "JPEG" in refused.value.do


def test_text_cut_inside_a_letter_is_still_text():
    with pytest.raises(ForeignFileError, match="text"):
        sniff("warped: é".encode()[:-1])


def test_no_bytes_are_an_empty_file():
    with pytest.raises(EmptyFileError):
        sniff(b"")
