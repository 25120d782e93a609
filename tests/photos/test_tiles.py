"""The full pixels of large photos: every one, in squares, cut once and for the screen only."""

import io
import multiprocessing
import zipfile

import numpy as np
import pytest
from PIL import Image

from defectlog.errors import NotFoundError
from defectlog.photos.inventory import take_inventory
from defectlog.photos.renditions import LARGE, PhotoStore
from defectlog.photos.tiles import TILE_PX, Tiles, levels_of
from tests.photos.test_renditions import jpeg, store_with

SIZE = (5000, 1100)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A photo of broad stripes, larger than its largest copy, lying on its side in its file."""
    ramp = np.linspace(0, 255, SIZE[0]).astype(np.uint8)
    picture = Image.fromarray(np.tile(ramp, (SIZE[1], 1))).convert("RGB")
    file = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "Camera of nobody"
    picture.transpose(Image.Transpose.ROTATE_90).save(file, "JPEG", quality=95, exif=exif)
    store, sha256 = store_with(tmp_path_factory.mktemp("photos"), file.getvalue())
    tiles = Tiles(store)
    tiles.prepare(sha256).result()
    return store, sha256, tiles


def test_only_a_photo_larger_than_its_largest_copy_has_levels():
    # 12 megapixels of a phone are held whole by the copy of 4096 × 3072.
    assert levels_of(4000, 3000) == ()
    (only,) = levels_of(8000, 6000)
    assert (only.width_px, only.columns, only.rows) == (8000, 16, 12)  # 15.6 and 11.7 squares
    # 16320 px are twice 8160, and half of those are fewer than the 4096 of the copy.
    assert [level.width_px for level in levels_of(16320, 12240)] == [8160, 16320]


def test_the_tiles_put_together_are_the_upright_photo(kept):
    store, sha256, tiles = kept
    (level,) = levels_of(*SIZE)
    whole = Image.new("RGB", SIZE)
    for row in range(level.rows):
        for column in range(level.columns):
            with Image.open(io.BytesIO(tiles.tile(sha256, 0, column, row))) as tile:
                assert max(tile.size) <= TILE_PX
                whole.paste(tile, (column * TILE_PX, row * TILE_PX))

    apart = np.abs(np.asarray(whole).astype(int) - store.decoded(sha256).pixels())
    assert apart.max() <= 8  # a second JPEG of a smooth ramp moves no pixel by more


def test_tiles_carry_no_metadata(kept):
    _, sha256, tiles = kept
    assert not any(trace in tiles.tile(sha256, 0, 0, 0) for trace in (b"Exif", b"nobody"))


@pytest.mark.parametrize("place", [(0, 10, 0), (0, 0, 3), (1, 0, 0)])
def test_a_tile_beyond_the_photo_is_not_found(kept, place):
    _, sha256, tiles = kept
    with pytest.raises(NotFoundError):
        tiles.tile(sha256, *place)


def test_tiles_count_as_copies_and_go_with_them(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg((1100, 5000)))
    Tiles(store).prepare(sha256).result()
    there = store.tiles_path(sha256)
    assert there.is_file() and take_inventory(tmp_path).foreign == ()
    assert list(store.originals.kept()) == [sha256]

    store.remove_copies(sha256)

    assert not there.exists() and store.originals.is_sound(sha256)


def test_damaged_tiles_are_cut_anew(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg((1100, 5000)))
    tiles = Tiles(store)
    tiles.prepare(sha256).result()
    store.tiles_path(sha256).write_bytes(b"cut off")

    with pytest.raises(NotFoundError):
        tiles.tile(sha256, 0, 0, 0)
    assert not tiles.are_ready(sha256)
    Tiles(store).prepare(sha256).result()
    assert tiles.tile(sha256, 0, 0, 0)


def test_what_cannot_be_cut_is_told_and_leaves_nothing(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg((1100, 5000)))
    store.originals.remove(sha256)
    tiles = Tiles(store)

    assert tiles.prepare(sha256).exception() is not None
    assert [file for file in tmp_path.rglob("*") if file.suffix in (".zip", ".part")] == []


def cut(folder, sha256):
    Tiles(PhotoStore(folder)).prepare(sha256).result()


def test_two_processes_cut_one_set_of_tiles(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg((1100, 5000)))
    started = multiprocessing.get_context("spawn")
    workers = [started.Process(target=cut, args=(tmp_path, sha256)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()

    assert [worker.exitcode for worker in workers] == [0, 0]
    with zipfile.ZipFile(store.tiles_path(sha256)) as cut_tiles:
        assert cut_tiles.testzip() is None
        assert len(cut_tiles.namelist()) == 10 * 3  # 5000 and 1100 px in squares of 512
    assert list((tmp_path / "arriving").glob("*.part")) == []
    assert LARGE.fit(*SIZE)[0] < SIZE[0]
