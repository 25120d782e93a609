"""The full pixels of a photo too large for one copy, cut into small squares for the screen.

All tiles of a photo lie in one file beside its copies, ``ab/abcdef…-tiles.zip``: plain JPEG files
in an uncompressed ZIP. It appears whole or not at all, and like a copy it is derived: one that is
missing, damaged or removed is made again from the original.
"""

import io
import logging
import os
import secrets
import threading
import zipfile
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from defectlog.errors import NotFoundError
from defectlog.photos.originals import storage_faults
from defectlog.photos.renditions import LARGE, PhotoStore
from defectlog.photos.turns import one_at_a_time

TILE_PX = 512
QUALITY = 88

# Cutting takes some six bytes of memory a pixel. One photo at a time in this process, and by the
# lock beside the photos on this computer; the others wait.
_CUTTING = ThreadPoolExecutor(1, thread_name_prefix="tiles")
_LOCK = "tiles.lock"

log = logging.getLogger("defectlog")


@dataclass(frozen=True, slots=True)
class Level:
    """The whole photo at one size, in pixels, cut into squares of ``TILE_PX``."""

    width_px: int
    height_px: int

    @property
    def columns(self) -> int:
        return -(-self.width_px // TILE_PX)

    @property
    def rows(self) -> int:
        return -(-self.height_px // TILE_PX)

    def corners(self, column: int, row: int) -> tuple[int, int, int, int]:
        """Left, top, right and bottom of a tile, in pixels of this level."""
        left, top = column * TILE_PX, row * TILE_PX
        right, bottom = min(left + TILE_PX, self.width_px), min(top + TILE_PX, self.height_px)
        return left, top, right, bottom


def levels_of(width_px: int, height_px: int) -> tuple[Level, ...]:
    """The levels of a photo from small to large, each twice the one before.

    The last is the photo itself, the first is the smallest that still shows more than the
    largest copy; a photo that copy holds whole has none.
    """
    levels: list[Level] = []
    width, height = width_px, height_px
    while width > LARGE.fit(width_px, height_px)[0]:
        levels.append(Level(width, height))
        width, height = round(width / 2), round(height / 2)
    return tuple(reversed(levels))


class Tiles:
    """The tiles of a workshop's photos, cut in the background when somebody first looks close."""

    def __init__(self, store: PhotoStore) -> None:
        self._store = store
        self._guard = threading.Lock()
        self._coming: dict[str, Future[None]] = {}

    def are_ready(self, sha256: str) -> bool:
        return self._store.tiles_path(sha256).is_file()

    def prepare(self, sha256: str) -> Future[None]:
        """Have the tiles cut, unless they are there or that is under way.

        The answer is done once they are there. One that failed is told once, and tried anew when
        somebody asks again.
        """
        with self._guard:
            coming = self._coming.get(sha256)
            if coming is None:
                coming = self._coming[sha256] = _CUTTING.submit(self._cut_in_turn, sha256)
            if coming.done():
                del self._coming[sha256]
            return coming

    def tile(self, sha256: str, level: int, column: int, row: int) -> bytes:
        """One tile as a JPEG.

        Raises
        ------
        NotFoundError
            If the photo has no such tile, or its tiles are not cut yet.
        """
        path = self._store.tiles_path(sha256)
        name = _name(level, column, row)
        with storage_faults("read"):
            try:
                with zipfile.ZipFile(path) as kept:
                    return kept.read(name)
            except zipfile.BadZipFile as error:
                log.warning("The tiles in %s are damaged, they are cut anew when needed.", path)
                path.unlink(missing_ok=True)
                raise NotFoundError("tile", name) from error
            except (KeyError, FileNotFoundError) as error:
                raise NotFoundError("tile", name) from error

    def _cut_in_turn(self, sha256: str) -> None:
        with storage_faults("written"):
            folder = self._store.originals.passing_folder()
            with one_at_a_time(folder / _LOCK):
                # Another process may have been quicker.
                if not self.are_ready(sha256):
                    self._cut(sha256, folder)

    def _cut(self, sha256: str, folder: Path) -> None:
        picture = self._store.decoded(sha256).image
        place = self._store.tiles_path(sha256)
        passing = folder / f"{secrets.token_hex(16)}.part"
        try:
            with zipfile.ZipFile(passing, "w", zipfile.ZIP_STORED) as kept:
                levels = levels_of(*picture.size)
                for number, level in reversed(tuple(enumerate(levels))):
                    shape = (level.width_px, level.height_px)
                    if picture.size != shape:
                        picture = picture.resize(shape, Image.Resampling.LANCZOS, reducing_gap=2.0)
                    _write_level(kept, number, level, picture)
            os.replace(passing, place)
        finally:
            with suppress(OSError):
                passing.unlink(missing_ok=True)
        # The photo may have been let go of meanwhile, and its copies with it.
        if not self._store.originals.exists(sha256):
            place.unlink(missing_ok=True)


def _write_level(kept: zipfile.ZipFile, number: int, level: Level, picture: Image.Image) -> None:
    for row in range(level.rows):
        for column in range(level.columns):
            tile = io.BytesIO()
            picture.crop(level.corners(column, row)).save(tile, "JPEG", quality=QUALITY)
            kept.writestr(_name(number, column, row), tile.getvalue())


def _name(level: int, column: int, row: int) -> str:
    return f"{level}/{column}-{row}.jpg"
