"""Files become upright RGB pictures, or are refused in words. All files are made here."""

import io
import signal
import struct
import subprocess
import sys
import zlib
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from defectlog.photos import decoding
from defectlog.photos.decoding import decode
from defectlog.photos.refusals import (
    DamagedPhotoError,
    EmptyFileError,
    ForeignFileError,
    SlowPhotoError,
    TooLargeError,
)

HERE = Path(__file__).parent
RED, GREEN, BLUE, GREY = (200, 30, 30), (30, 180, 30), (30, 30, 200), (140, 140, 140)


def scene() -> Image.Image:
    """Four corners that tell every turn and every mirror apart, 96 wide and 64 high."""
    picture = Image.new("RGB", (96, 64), GREY)
    picture.paste(RED, (0, 0, 48, 32))
    picture.paste(GREEN, (48, 0, 96, 32))
    picture.paste(BLUE, (0, 32, 48, 64))
    return picture


def corners(picture: Image.Image) -> list[tuple[int, int, int]]:
    right, bottom = picture.width - 10, picture.height - 10
    return [picture.getpixel(at) for at in ((10, 10), (right, 10), (10, bottom), (right, bottom))]


def as_file(picture: Image.Image, form: str, **options: object) -> io.BytesIO:
    file = io.BytesIO()
    picture.save(file, form, **options)
    return file


def with_orientation(number: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = number
    return exif.tobytes()


# What is stored when the upright scene is to come out by each orientation (Exif 2.32, 4.6.4: where
# row 0 and column 0 of the stored picture lie in the scene), written as numpy steps.
STORED = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: a.transpose(1, 0, 2)[::-1],
    7: lambda a: a.transpose(1, 0, 2)[::-1, ::-1],
    8: lambda a: a.transpose(1, 0, 2)[:, ::-1],
}


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_out_upright_once(form, orientation):
    stored = Image.fromarray(np.ascontiguousarray(STORED[orientation](np.asarray(scene()))))

    photo = decode(as_file(stored, form, exif=with_orientation(orientation), quality=95))

    assert (photo.width_px, photo.height_px) == (96, 64)
    np.testing.assert_allclose(corners(photo.image), [RED, GREEN, BLUE, GREY], atol=6)


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_that_does_not_exist_turns_nothing(orientation):
    photo = decode(as_file(scene(), "JPEG", exif=with_orientation(orientation)))

    assert (photo.width_px, photo.height_px) == (96, 64)


@pytest.mark.parametrize("name", ["upright.heic", "turned.heic"])
def test_a_heic_photo_comes_out_upright_once(name):
    # Both hold the scene above; in turned.heic it is stored on its side with orientation 6.
    with (HERE / name).open("rb") as file:
        photo = decode(file)

    assert photo.format.media_type == "image/heic"
    assert (photo.width_px, photo.height_px) == (96, 64)
    np.testing.assert_allclose(corners(photo.image), [RED, GREEN, BLUE, GREY], atol=6)


@pytest.mark.parametrize("share", [0.4, 0.9])
def test_a_heic_photo_cut_short_is_damaged(share):
    data = (HERE / "turned.heic").read_bytes()

    with pytest.raises(DamagedPhotoError):
        decode(io.BytesIO(data[: int(len(data) * share)]))


def test_a_heic_photo_that_crashes_its_decoder_costs_only_itself():
    # turned.heic with some bytes changed. pi-heif 1.4.0 ends with a segmentation fault on it; a
    # later one may refuse it or read it, and either way the next photo is read.
    with (HERE / "crashing.heic").open("rb") as file, suppress(DamagedPhotoError):
        decode(file)

    with (HERE / "upright.heic").open("rb") as file:
        assert decode(file).width_px == 96


def test_a_photo_that_keeps_its_decoder_too_long_is_refused_in_a_sentence(monkeypatch):
    # No time at all, so that a sound one is too slow as well.
    monkeypatch.setattr(decoding, "_PATIENCE_S", 0)

    with (HERE / "upright.heic").open("rb") as file, pytest.raises(SlowPhotoError, match="JPEG"):
        decode(file)


def test_a_decoder_that_never_ends_is_ended_by_the_system():
    busy = "from defectlog.photos.apart import _hold_back\n_hold_back(1)\nwhile True: pass"

    done = subprocess.run([sys.executable, "-c", busy], timeout=60)

    assert done.returncode == -signal.SIGXCPU


def test_what_is_read_apart_gets_fifteen_seconds_and_more_only_where_larger_photos_are_let_in(
    monkeypatch,
):
    given = []
    real = subprocess.run
    monkeypatch.setattr(
        decoding.subprocess, "run", lambda *a, **k: given.append(k["timeout"]) or real(*a, **k)
    )
    for max_px in (decoding.DEFAULT_MAX_PX, 1_000_000, 3 * decoding.DEFAULT_MAX_PX):
        with (HERE / "upright.heic").open("rb") as file:
            decode(file, max_px=max_px)

    assert given == [15, 15, 45]


def test_the_clock_of_a_heic_photo_is_read_too():
    with (HERE / "turned.heic").open("rb") as file:
        photo = decode(file)

    assert photo.metadata.taken_at == datetime(2026, 3, 14, 9, 26, 53)
    assert photo.image.info == {}


def test_the_pixel_limit_holds_for_what_is_read_apart():
    with (HERE / "upright.heic").open("rb") as file, pytest.raises(TooLargeError):
        decode(file, max_px=96 * 64 - 1)


def test_the_camera_clock_is_read_and_the_place_is_not():
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:03:14 09:26:53"
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0)})

    photo = decode(as_file(scene(), "JPEG", exif=exif.tobytes()))

    assert photo.metadata.taken_at == datetime(2026, 3, 14, 9, 26, 53)
    assert photo.image.info == {}
    assert not dict(photo.image.getexif())


@pytest.mark.parametrize("text", ["2031:13:45 99:99:99", "0000:00:00 00:00:00", "<script>", " "])
def test_a_date_that_is_none_does_not_count(text):
    exif = Image.Exif()
    exif[0x0132] = text

    assert decode(as_file(scene(), "JPEG", exif=exif.tobytes())).metadata.taken_at is None


def test_metadata_of_random_bytes_costs_nothing_but_itself():
    noise = np.random.default_rng(5).integers(0, 256, 500, dtype=np.uint8).tobytes()

    photo = decode(as_file(scene(), "JPEG", exif=b"Exif\x00\x00" + noise))

    assert (photo.width_px, photo.height_px) == (96, 64)
    assert photo.metadata.taken_text is None


def test_grey_of_16_bits_is_scaled_and_not_cut_off():
    # 40 000 / 65 535 · 255 = 155.64, so 156; a cut at 255 would have given white.
    deep = Image.fromarray(np.full((20, 30), 40_000, dtype=np.uint16))

    for form in ("PNG", "TIFF"):
        photo = decode(as_file(deep, form))
        assert photo.image.getpixel((5, 5)) == (156, 156, 156)


def test_printing_colours_come_out_as_seen():
    # Plain CMYK to RGB: R = 255 − C when K is 0.
    cmyk = Image.new("CMYK", (16, 16), (55, 205, 155, 0))

    red, green, blue = decode(as_file(cmyk, "JPEG", quality=100)).image.getpixel((8, 8))

    assert (red, green, blue) == pytest.approx((200, 50, 100), abs=4)


def test_a_broken_colour_profile_is_left_aside():
    cmyk = Image.new("CMYK", (16, 16), (55, 205, 155, 0))

    photo = decode(as_file(cmyk, "JPEG", quality=100, icc_profile=b"nonsense" * 300))

    assert photo.image.getpixel((8, 8)) == pytest.approx((200, 50, 100), abs=4)


def test_a_sound_rgb_profile_does_no_harm():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

    photo = decode(as_file(scene(), "PNG", icc_profile=profile))

    assert corners(photo.image) == [RED, GREEN, BLUE, GREY]


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "1", "L"])
def test_pictures_of_every_common_mode_become_rgb(mode):
    photo = decode(as_file(scene().convert(mode), "PNG"))

    assert photo.image.mode == "RGB"
    assert photo.pixels().shape == (64, 96, 3)


def test_what_can_be_seen_through_lies_on_white():
    clear = Image.new("RGBA", (8, 8), (10, 20, 30, 0))

    assert decode(as_file(clear, "PNG")).image.getpixel((4, 4)) == (255, 255, 255)


def test_a_palette_with_a_clear_entry_lies_on_white():
    clear = Image.new("P", (8, 8), 0)
    clear.putpalette([10, 20, 30])

    file = as_file(clear, "PNG", transparency=0)

    assert decode(file).image.getpixel((4, 4)) == (255, 255, 255)


def test_of_moving_pictures_the_first_frame_is_taken():
    first, second = Image.new("RGB", (8, 8), RED), Image.new("RGB", (8, 8), BLUE)

    for form in ("PNG", "WEBP", "TIFF"):
        extra = {} if form == "TIFF" else {"lossless": True}
        file = as_file(first, form, save_all=True, append_images=[second], **extra)
        assert decode(file).image.getpixel((4, 4)) == RED


def test_a_jpeg_of_two_pictures_counts_as_jpeg():
    file = as_file(scene(), "MPO", save_all=True, append_images=[scene().resize((48, 32))])

    photo = decode(file)

    assert photo.format.media_type == "image/jpeg"
    assert (photo.width_px, photo.height_px) == (96, 64)


def test_bytes_after_the_end_of_the_picture_are_no_part_of_it():
    file = as_file(scene(), "JPEG")

    photo = decode(io.BytesIO(file.getvalue() + b"PK\x03\x04" + bytes(1000)))

    assert (photo.width_px, photo.height_px) == (96, 64)


@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9, 0.99])
def test_a_jpeg_cut_short_is_damaged(share):
    noise = np.random.default_rng(1).integers(0, 256, (200, 300, 3), dtype=np.uint8)
    data = as_file(Image.fromarray(noise), "JPEG").getvalue()

    with pytest.raises(DamagedPhotoError, match="send it again"):
        decode(io.BytesIO(data[: int(len(data) * share)]))


def test_a_jpeg_without_its_end_marker_is_damaged():
    with pytest.raises(DamagedPhotoError):
        decode(io.BytesIO(as_file(scene(), "JPEG").getvalue()[:-2]))


def test_a_png_with_a_flipped_bit_is_damaged():
    data = bytearray(as_file(scene(), "PNG").getvalue())
    data[data.index(b"IDAT") + 12] ^= 0x10

    with pytest.raises(DamagedPhotoError):
        decode(io.BytesIO(bytes(data)))


def png_chunk(name: bytes, body: bytes) -> bytes:
    checksum = struct.pack(">I", zlib.crc32(name + body))
    return struct.pack(">I", len(body)) + name + body + checksum


def giant_png(width: int, height: int) -> bytes:
    """A small file of a very large picture: grey of 1 bit, all black, packed by zlib."""
    rows = zlib.compressobj(9)
    packed = b"".join(rows.compress(bytes(1 + (width + 7) // 8)) for _ in range(height))
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", header)
        + png_chunk(b"IDAT", packed + rows.flush())
        + png_chunk(b"IEND", b"")
    )


def test_a_giant_picture_in_a_small_file_is_refused_by_its_header():
    data = giant_png(20_000, 20_000)
    assert len(data) < 100_000

    with pytest.raises(TooLargeError) as refused:
        decode(io.BytesIO(data))

    assert "400 megapixels, the limit is 64" in refused.value.what


@pytest.mark.parametrize(("width", "is_taken"), [(100, True), (101, False)])
def test_the_pixel_limit_is_kept_to_the_pixel(width, is_taken):
    file = as_file(Image.new("RGB", (width, 50)), "PNG")

    if is_taken:
        assert decode(file, max_px=5000).width_px == width
    else:
        with pytest.raises(TooLargeError):
            decode(file, max_px=5000)


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_a_picture_just_above_pillows_own_warning_is_judged_by_our_limit():
    # 9 500² = 90.25 million pixels; Pillow begins to warn above 89.5 million.
    with pytest.raises(TooLargeError, match="90 megapixels"):
        decode(io.BytesIO(giant_png(9_500, 9_500)))


def test_a_raw_file_is_not_taken_for_its_preview():
    with pytest.raises(ForeignFileError, match="raw"):
        decode(as_file(scene(), "TIFF", tiffinfo={254: 1}))


def test_a_picture_of_32_bit_numbers_is_refused_by_name():
    with pytest.raises(ForeignFileError, match="32-bit"):
        decode(as_file(Image.fromarray(np.ones((4, 4), dtype=np.float32)), "TIFF"))


def test_text_and_nothing_are_refused():
    with pytest.raises(ForeignFileError, match="text"):
        decode(io.BytesIO(b"These are the notes of a build."))
    with pytest.raises(EmptyFileError):
        decode(io.BytesIO(b""))
