"""The one way from the bytes of a stranger's file to a picture.

Whatever else looks at a photo gets an array of pixels, never a file. HEIC and TIFF are read in a
process of their own: their decoders are large and have been crashed by damaged files, and a crash
there must cost one photo, not the server.
"""

import json
import math
import os
import signal
import subprocess
import sys
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

from PIL import Image

import defectlog
from defectlog.photos.exif import PhotoMetadata
from defectlog.photos.refusals import (
    DamagedPhotoError,
    ForeignFileError,
    PhotoRefusedError,
    SlowPhotoError,
    TooLargeError,
)
from defectlog.photos.sniff import HEAD_BYTES, HEIC, TIFF, PhotoFormat, sniff
from defectlog.photos.upright import DecodedPhoto, decode_here

DEFAULT_MAX_PX = 64_000_000

_APART = (HEIC, TIFF)
# A HEIC photo of 64 megapixels takes some five seconds. Where larger ones are let in, they may take
# as much longer as they are larger.
_PATIENCE_S = 15
_PROCESSOR_S = 10


def decode(source: BinaryIO, *, max_px: int = DEFAULT_MAX_PX) -> DecodedPhoto:
    """Read a photo from an open file and turn it upright.

    Parameters
    ----------
    source : binary file
        Open for reading, able to seek; read from its start.
    max_px : int, optional
        Most pixels taken. Checked against the header, before any pixel is decoded.

    Returns
    -------
    DecodedPhoto
        The first picture of the file. Transparent parts are laid on white; 16-bit grey is scaled to
        8 bits; printing colours (CMYK) go through their profile where there is one.

    Raises
    ------
    EmptyFileError, ForeignFileError, TooLargeError, DamagedPhotoError, SlowPhotoError
        As their names say.
    """
    source.seek(0)
    kind = sniff(source.read(HEAD_BYTES))
    if kind not in _APART:
        return decode_here(source, kind, max_px=max_px)
    source.seek(0)
    return _decode_apart(source.read(), kind, max_px)


def _decode_apart(data: bytes, kind: PhotoFormat, max_px: int) -> DecodedPhoto:
    """Have ``photos/apart.py`` read it, and believe only plain values that fit together."""
    root = str(Path(defectlog.__file__).resolve().parent.parent)
    paths = os.pathsep.join(filter(None, (root, os.environ.get("PYTHONPATH"))))
    larger = max(1.0, max_px / DEFAULT_MAX_PX)
    patience_s, processor_s = _PATIENCE_S * larger, math.ceil(_PROCESSOR_S * larger)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "defectlog.photos.apart", str(max_px), str(processor_s)],
            input=data,
            capture_output=True,
            timeout=patience_s,
            env=os.environ | {"PYTHONPATH": paths},
            check=True,
        )
        told, _, pixels = done.stdout.partition(b"\n")
        said = json.loads(told)
        if "refused" not in said:
            return _picture(said, pixels, kind)
    except subprocess.CalledProcessError as error:
        # Status 1 is an error of our own program; anything else is a decoder that crashed.
        if error.returncode == 1:
            raise RuntimeError(error.stderr.decode(errors="replace")) from error
        if error.returncode == -getattr(signal, "SIGXCPU", 0):
            raise SlowPhotoError(kind.name, processor_s) from error
        raise DamagedPhotoError(kind.name) from error
    except subprocess.TimeoutExpired as error:
        raise SlowPhotoError(kind.name, patience_s) from error
    except (ValueError, KeyError, TypeError) as error:
        raise DamagedPhotoError(kind.name) from error
    raise _refusal(said, kind, max_px)


def _picture(said: dict[str, Any], pixels: bytes, kind: PhotoFormat) -> DecodedPhoto:
    image = Image.frombytes("RGB", (said["width_px"], said["height_px"]), pixels)
    taken_at = said["taken_at"]
    metadata = PhotoMetadata(
        said["orientation"],
        said["taken_text"],
        None if taken_at is None else datetime.fromisoformat(taken_at),
    )
    return DecodedPhoto(image, kind, metadata)


def _refusal(said: dict[str, Any], kind: PhotoFormat, max_px: int) -> PhotoRefusedError:
    if said["refused"] == ForeignFileError.reason:
        return ForeignFileError(said["found"])
    if said["refused"] == TooLargeError.reason:
        return _too_large(said["by"], said["of"], max_px)
    return DamagedPhotoError(kind.name)


def _too_large(by: str, found: int | None, max_px: int) -> TooLargeError:
    if by == "side" and found is not None:
        return TooLargeError.in_side(found)
    if by == "profile" and found is not None:
        return TooLargeError.in_profile(found)
    return TooLargeError.in_pixels(found, max_px)
