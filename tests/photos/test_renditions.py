"""Copies for the screen: upright, bare of metadata, made again when missing."""

import io

import pytest
from PIL import Image

from defectlog.photos import LARGE, SIZES, THUMB, VIEW, PhotoStore
from defectlog.photos.refusals import MissingOriginalError


def jpeg(size=(2000, 1000), *, orientation=6) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Camera of nobody"
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0)})
    file = io.BytesIO()
    Image.new("RGB", size, (90, 120, 60)).save(
        file, "JPEG", exif=exif.tobytes(), comment=b"<script>a comment</script>"
    )
    return file.getvalue()


def store_with(folder, data: bytes) -> tuple[PhotoStore, str]:
    store = PhotoStore(folder)
    with store.originals.receive(io.BytesIO(data)) as incoming:
        store.originals.keep(incoming)
    return store, incoming.sha256


def test_copies_are_upright_and_of_their_size(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg())

    shapes = {}
    for name, size in SIZES.items():
        with Image.open(store.rendition(sha256, size)) as copy:
            shapes[name] = copy.size
            assert copy.format == "JPEG"

    # Stored 2000 × 1000 and turned by a quarter: 1000 × 2000.
    assert shapes == {"thumb": (160, 320), "view": (800, 1600), "large": (1000, 2000)}


def test_copies_carry_no_metadata(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg())
    store.make_renditions(sha256, store.decoded(sha256))

    for size in SIZES.values():
        data = store.rendition(sha256, size).read_bytes()
        for trace in (b"Exif", b"GPS", b"nobody", b"script", b"ICC_PROFILE"):
            assert trace not in data


def test_a_missing_copy_is_made_again(tmp_path):
    store, sha256 = store_with(tmp_path, jpeg())
    store.make_renditions(sha256, store.decoded(sha256))
    path = store.rendition(sha256, THUMB)
    path.unlink()

    assert store.rendition(sha256, THUMB) == path
    assert path.is_file()


def test_making_all_copies_gives_the_shapes_that_are_foretold(tmp_path):
    # An odd shape, so that rounding twice would show.
    store, sha256 = store_with(tmp_path, jpeg((4999, 3331), orientation=1))
    store.make_renditions(sha256, store.decoded(sha256))

    for size in SIZES.values():
        with Image.open(store.rendition(sha256, size)) as copy:
            assert copy.size == size.fit(4999, 3331)


def test_the_original_is_not_touched_by_its_copies(tmp_path):
    data = jpeg()
    store, sha256 = store_with(tmp_path, data)
    store.make_renditions(sha256, store.decoded(sha256))

    assert store.originals.read(sha256) == data
    assert store.originals.path(sha256).suffix == ".jpg"


@pytest.mark.parametrize(
    ("size", "width", "height", "expected"),
    [
        (LARGE, 4032, 3024, (4032, 3024)),
        (LARGE, 8064, 6048, (4096, 3072)),
        (LARGE, 4000, 4000, (3547, 3547)),  # √(4096 · 3072) = 3547.2
        (VIEW, 4032, 3024, (1600, 1200)),
        (THUMB, 3024, 4032, (240, 320)),
        (THUMB, 90, 60, (90, 60)),
        (THUMB, 50_000, 10, (320, 1)),
    ],
)
def test_a_copy_fits_its_bounds_and_is_never_enlarged(size, width, height, expected):
    assert size.fit(width, height) == expected


def test_a_copy_without_its_original_cannot_be_made(tmp_path):
    with pytest.raises(MissingOriginalError):
        PhotoStore(tmp_path).rendition("cd" * 32, THUMB)
