"""The bytes of a file become an upright picture of plain RGB, in this very process.

Pillow alone reads them, told to try the one format that the first bytes showed.
"""

import io
import re
import warnings
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from PIL import Image, ImageCms

from defectlog.photos.exif import PhotoMetadata, read_metadata
from defectlog.photos.pieces import refuse_shreds
from defectlog.photos.refusals import (
    MOST_PROFILE_BYTES,
    MOST_SIDE_PX,
    DamagedPhotoError,
    ForeignFileError,
    TooLargeError,
)
from defectlog.photos.sniff import HEIC, PNG, TIFF, WEBP, PhotoFormat

# Pillow only warns from 89 megapixels on and refuses from 179; here `max_px` decides, up to 200.
Image.MAX_IMAGE_PIXELS = 200_000_000
warnings.filterwarnings("ignore", category=Image.DecompressionBombWarning)

# How each Exif orientation 2–8 is turned upright (Exif 2.32, 4.6.4, tag 0x0112).
_TURN = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
# These readers hand the picture out upright already; turning again would lay it on its side.
_TURNED_BY_READER = (TIFF, HEIC)

# TIFF 6.0 and the tags of raw files built on it.
_NEW_SUBFILE_TYPE = 254
_BITS_PER_SAMPLE = 258
_RAW_VERSION = 50706


@dataclass(frozen=True, slots=True)
class DecodedPhoto:
    """A photo as a person sees it: RGB, 8 bits, upright, without a trace of its metadata."""

    image: Image.Image
    format: PhotoFormat
    metadata: PhotoMetadata
    frames: int = 1  # of an animation
    bits: int = 8  # a colour, in the file

    @property
    def note(self) -> str:
        """What of the file is not in the picture, in a sentence; empty where all of it is."""
        if self.frames > 1:
            return f"Of {self.frames} moving pictures the first is shown, the file is kept whole."
        if self.bits > 8:
            return f"Of its {self.bits} bits a colour 8 are shown, the file is kept whole."
        return ""

    @property
    def width_px(self) -> int:
        return self.image.width

    @property
    def height_px(self) -> int:
        return self.image.height

    def pixels(self) -> np.ndarray:
        """The picture as a (height, width, 3) array of uint8, red first."""
        return np.asarray(self.image)


def decode_here(source: BinaryIO, kind: PhotoFormat, *, max_px: int) -> DecodedPhoto:
    """Read a file that begins as ``kind`` does; see ``decoding.decode``, which is the way in."""
    source.seek(0)
    try:
        refuse_shreds(source, kind)
        if kind is PNG:
            _check_sums(source)
        with Image.open(source, formats=(kind.reader,)) as opened:
            _refuse_by_header(opened, kind, max_px)
            metadata = read_metadata(opened)
            opened.load()
            upright = _turned(_as_rgb(opened), kind, metadata.orientation)
            frames, bits = _frames(opened, kind), _bits(source, kind)
            return DecodedPhoto(_bare(upright), kind, metadata, frames, bits)
    # Pillow's own guard against giant headers speaks before ours can.
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        named = re.search(r"\((\d+) pixels\)", str(error))
        raise TooLargeError.in_pixels(int(named[1]) if named else None, max_px) from error
    except (ForeignFileError, TooLargeError, MemoryError):
        raise
    # A damaged file makes the decoders raise nearly anything, from OSError to TypeError.
    except Exception as error:
        raise DamagedPhotoError(kind.name) from error


def _check_sums(source: BinaryIO) -> None:
    """Read the check sums of a PNG, which Pillow passes over when it decodes one."""
    with Image.open(source, formats=(PNG.reader,)) as opened:
        opened.verify()
    source.seek(0)


def _refuse_by_header(opened: Image.Image, kind: PhotoFormat, max_px: int) -> None:
    pixels = opened.width * opened.height
    if pixels > max_px:
        raise TooLargeError.in_pixels(pixels, max_px)
    if max(opened.size) > MOST_SIDE_PX:
        raise TooLargeError.in_side(max(opened.size))
    profile = opened.info.get("icc_profile") or b""
    if len(profile) > MOST_PROFILE_BYTES:
        raise TooLargeError.in_profile(len(profile))
    if kind is TIFF:
        tags = opened.tag_v2
        # In a raw file the first picture is but a small preview of the photo.
        if _RAW_VERSION in tags or tags.get(_NEW_SUBFILE_TYPE, 0) & 1:
            raise ForeignFileError("a camera raw file")
    if opened.mode in ("I", "F"):
        raise ForeignFileError(f"a {kind.name} of 32-bit numbers")


def _as_rgb(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I;16"):
        return _grey_in_8_bits(image).convert("RGB")
    if image.mode == "CMYK":
        return _from_printing_colours(image)
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        white = Image.new("RGBA", seen.size, "white")
        return Image.alpha_composite(white, seen).convert("RGB")
    return image if image.mode == "RGB" else image.convert("RGB")


def _grey_in_8_bits(image: Image.Image) -> Image.Image:
    # Image.convert would cut every value above 255 to white, so they are scaled first.
    bits = 16
    if image.format == "TIFF":
        bits = image.tag_v2.get(_BITS_PER_SAMPLE, (16,))[0]
    top = 2**bits - 1
    grey = np.asarray(image).astype(np.uint32)
    return Image.fromarray(((grey * 255 + top // 2) // top).clip(0, 255).astype(np.uint8))


def _from_printing_colours(image: Image.Image) -> Image.Image:
    profile = image.info.get("icc_profile")
    if profile:
        try:
            return ImageCms.profileToProfile(
                image,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGB",
            )
        # A broken profile costs exact colours, not the photo.
        except (ImageCms.PyCMSError, OSError):
            pass
    return image.convert("RGB")


def _frames(opened: Image.Image, kind: PhotoFormat) -> int:
    # What cameras put behind the picture (a depth map, a second exposure) is no animation.
    return getattr(opened, "n_frames", 1) if kind in (PNG, WEBP) else 1


def _bits(source: BinaryIO, kind: PhotoFormat) -> int:
    if kind is not PNG:
        return 8
    # PNG, 11.2.2: the depth follows the signature (8), the head of IHDR (8), width and height.
    source.seek(24)
    return source.read(1)[0]


def _turned(image: Image.Image, kind: PhotoFormat, orientation: int) -> Image.Image:
    if kind in _TURNED_BY_READER or orientation not in _TURN:
        return image
    return image.transpose(_TURN[orientation])


def _bare(image: Image.Image) -> Image.Image:
    """A plain picture of the same pixels: comments, places and profiles stay behind."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    return bare
