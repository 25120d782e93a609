"""Smaller copies of a photo for the screen: upright JPEG files without any metadata.

They are derived, so they need no care: one that is missing is made again from the original.
"""

import os
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from defectlog.disk import flush_file
from defectlog.photos.decoding import DEFAULT_MAX_PX, DecodedPhoto, decode
from defectlog.photos.originals import DEFAULT_MAX_BYTES, Originals, storage_faults


@dataclass(frozen=True, slots=True)
class Size:
    """A size of copies: bounds on the longer side and on all pixels, and JPEG quality 1–95."""

    name: str
    long_side_px: int
    most_px: int
    quality: int

    def fit(self, width_px: int, height_px: int) -> tuple[int, int]:
        """Width and height of the copy of a photo, in pixels; never larger than the photo."""
        scale = min(
            1.0,
            self.long_side_px / max(width_px, height_px),
            (self.most_px / (width_px * height_px)) ** 0.5,
        )
        return max(1, round(width_px * scale)), max(1, round(height_px * scale))


THUMB = Size("thumb", 320, 320 * 320, 80)
VIEW = Size("view", 1600, 1600 * 1600, 86)
# A 12-megapixel phone photo passes whole; phones refuse canvases above 16.7 million pixels.
LARGE = Size("large", 4096, 4096 * 3072, 90)
SIZES = {size.name: size for size in (THUMB, VIEW, LARGE)}


class PhotoStore:
    """The originals of a workshop and the copies beside them: ``ab/abcdef…-view.jpg``."""

    def __init__(
        self,
        folder: Path,
        *,
        max_bytes: int = DEFAULT_MAX_BYTES,
        max_px: int = DEFAULT_MAX_PX,
    ) -> None:
        self.originals = Originals(folder, max_bytes=max_bytes)
        self.max_px = max_px

    def decode(self, source: BinaryIO) -> DecodedPhoto:
        """A file as upright pixels, within the limit of this workshop."""
        return decode(source, max_px=self.max_px)

    def decoded(self, sha256: str) -> DecodedPhoto:
        """An original as upright pixels."""
        with storage_faults("read"), self.originals.path(sha256).open("rb") as file:
            return self.decode(file)

    def rendition(self, sha256: str, size: Size) -> Path:
        """The file of a copy, made now if it is missing."""
        path = self._place(sha256, size)
        if not path.is_file():
            picture = self.decoded(sha256).image
            self._make(sha256, picture, size, size.fit(*picture.size))
        return path

    def make_renditions(self, sha256: str, photo: DecodedPhoto) -> None:
        """Make all copies of a photo that is already decoded."""
        picture = photo.image
        for size in (LARGE, VIEW, THUMB):
            if not self._place(sha256, size).is_file():
                # Each copy is drawn from the next larger one, which is quicker and no worse.
                picture = self._make(sha256, picture, size, size.fit(*photo.image.size))

    def remove_copies(self, sha256: str) -> None:
        """Take the copies of a photo off the disk; they can be drawn again from its original."""
        with storage_faults("written"):
            self.tiles_path(sha256).unlink(missing_ok=True)
            for size in SIZES.values():
                self._place(sha256, size).unlink(missing_ok=True)

    def tiles_path(self, sha256: str) -> Path:
        """Where the full pixels of a large photo lie in tiles, once they are cut (tiles.py)."""
        return self.originals.folder / sha256[:2] / f"{sha256}-tiles.zip"

    def _make(
        self, sha256: str, picture: Image.Image, size: Size, shape: tuple[int, int]
    ) -> Image.Image:
        if shape != picture.size:
            picture = picture.resize(shape, Image.Resampling.LANCZOS, reducing_gap=2.0)
        place = self._place(sha256, size)
        with storage_faults("written"):
            passing = self.originals.passing_folder() / f"{secrets.token_hex(16)}.part"
            try:
                with passing.open("xb") as file:
                    picture.save(file, "JPEG", quality=size.quality)
                    file.flush()
                    # A name whose bytes a power cut took would be a broken picture for good.
                    flush_file(file.fileno())
                os.replace(passing, place)
            finally:
                with suppress(FileNotFoundError):
                    passing.unlink()
        return picture

    def _place(self, sha256: str, size: Size) -> Path:
        return self.originals.folder / sha256[:2] / f"{sha256}-{size.name}.jpg"
